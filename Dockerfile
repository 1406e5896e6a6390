FROM python:3.13-slim-bookworm

RUN apt-get update \
    && apt-get install -y --no-install-recommends \
        libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core \
    && rm -rf /var/lib/apt/lists/*

# The environment is this image itself, so manage.py makes none.
ENV FLEET_ENV=given \
    FLEET_MODE=production \
    FLEET_VAR=/var/lib/fleet \
    PYTHONUNBUFFERED=1

WORKDIR /srv/fleet
COPY requirements.lock ./
RUN pip install --no-cache-dir --require-hashes --only-binary :all: -r requirements.lock
COPY . ./
RUN python -m compileall -q fleet

# A volume mounted here takes over this owner.
RUN useradd --system --uid 10001 --no-create-home fleet \
    && install -d -o fleet -g fleet /var/lib/fleet
USER fleet
VOLUME /var/lib/fleet
EXPOSE 8000

# Asked as the proxy in front would ask: with the site's own name, over https.
HEALTHCHECK --interval=30s --timeout=5s --start-period=20s \
    CMD ["python", "-c", "import http.client, os, sys; c = http.client.HTTPConnection('127.0.0.1', 8000, timeout=4); c.request('GET', '/health/', headers={'Host': os.environ['FLEET_ALLOWED_HOSTS'].split(',')[0].strip().lstrip('.'), 'X-Forwarded-Proto': 'https'}); sys.exit(c.getresponse().status != 200)"]

CMD ["gunicorn", "fleet.wsgi:application", "--bind", "0.0.0.0:8000", "--workers", "2", "--threads", "4", "--worker-tmp-dir", "/dev/shm", "--access-logfile", "-"]
