"""The WSGI entry; it refuses to start without a secret, and with signing keys that cannot be used."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
application = get_wsgi_application()

from django.conf import settings  # noqa: E402

from fleet.certificates.signing_keys import known_keys  # noqa: E402

assert settings.SECRET_KEY  # Django raises ImproperlyConfigured here when production has no secret
known_keys()
