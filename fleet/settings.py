"""Settings: one file, typed readers of the environment that fail loudly."""

import os
import secrets
import sys
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(os.environ.get("FLEET_VAR", BASE_DIR / "var"))


def env_bool(name: str, default: bool) -> bool:
    text = os.environ.get(name, "").strip().lower()
    if text == "":
        return default
    if text in {"1", "true", "yes", "on"}:
        return True
    if text in {"0", "false", "no", "off"}:
        return False
    raise ImproperlyConfigured(f"{name} must be yes or no, not {text!r}.")


def env_int(name: str, default: int) -> int:
    text = os.environ.get(name, "").strip()
    if text == "":
        return default
    try:
        return int(text)
    except ValueError:
        raise ImproperlyConfigured(f"{name} must be a whole number, not {text!r}.") from None


def env_list(name: str, default: list[str]) -> list[str]:
    text = os.environ.get(name, "").strip()
    return [part.strip() for part in text.split(",") if part.strip()] if text else default


def env_secret(name: str) -> str:
    """Read NAME, or the file that NAME_FILE points to; empty when neither is set."""
    file_name = os.environ.get(f"{name}_FILE")
    if file_name:
        return Path(file_name).read_text(encoding="utf-8").strip()
    return os.environ.get(name, "").strip()


def local_secret() -> str:
    """A secret of this copy's own, made once and kept out of version control."""
    path = VAR_DIR / "secret_key"
    try:
        return path.read_text(encoding="utf-8").strip()
    except FileNotFoundError:
        pass
    made = secrets.token_urlsafe(50)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as out:
            out.write(made)
    except FileExistsError:
        return path.read_text(encoding="utf-8").strip()
    except OSError:  # a read-only place still runs `compute`
        return made
    return made


def env_folder(name: str, default: Path) -> Path:
    """A folder named in the environment has to be there; the default one may come later."""
    text = os.environ.get(name, "").strip()
    if text and not Path(text).is_dir():
        raise ImproperlyConfigured(f"{name} must name a folder that exists, not {text!r}.")
    return Path(text) if text else default


MODE = os.environ.get("FLEET_MODE", "local")
if MODE not in {"local", "production"}:
    raise ImproperlyConfigured(f"FLEET_MODE must be local or production, not {MODE!r}.")
PRODUCTION = MODE == "production"
TESTING = "pytest" in sys.modules

DEBUG = env_bool("FLEET_DEBUG", False)
# Left empty in production without a secret: Django then refuses at first use, which wsgi.py makes at start.
SECRET_KEY = env_secret("FLEET_SECRET_KEY") or ("" if PRODUCTION else local_secret())
ALLOWED_HOSTS = env_list("FLEET_ALLOWED_HOSTS", [] if PRODUCTION else ["localhost", "127.0.0.1", "[::1]", "testserver"])
SITE_URL = os.environ.get("SITE_URL", "http://localhost:8000").rstrip("/")
CSRF_TRUSTED_ORIGINS = [SITE_URL] if SITE_URL.startswith("https://") else []

# Who signs certificates: PEM files in a folder, and one more text of PEM where a key comes through the environment.
SIGNING_FOLDER = env_folder("FLEET_SIGNING_FOLDER", VAR_DIR / "signing")
SIGNING_BUNDLE = env_secret("FLEET_SIGNING_BUNDLE")
SIGNING_PASSWORD = env_secret("FLEET_SIGNING_PASSWORD")
SIGNING_MAKES_DEMO_KEYS = not PRODUCTION
TIMESTAMP_URL = os.environ.get("FLEET_TIMESTAMP_URL", "").strip()
if TIMESTAMP_URL and not TIMESTAMP_URL.startswith(("http://", "https://")):
    raise ImproperlyConfigured(f"FLEET_TIMESTAMP_URL must begin with http:// or https://, not {TIMESTAMP_URL[:60]!r}.")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_htmx",
    "fleet.core",
    "fleet.accounts",
    "fleet.vessels",
    "fleet.drums",
    "fleet.gauges",
    "fleet.records",
    "fleet.drift",
    "fleet.certificates",
    "fleet.review",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleet.accounts.sign_ins.SeenMiddleware",
    "fleet.core.whence.WhenceMiddleware",
    "fleet.core.kept_forms.KeptFormsMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "fleet.accounts.second_factor.SecondFactorMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "fleet.urls"
WSGI_APPLICATION = "fleet.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "fleet" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.vessels.context.navigation",
            ],
        },
    },
]

SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 5,
    "init_command": (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;"
        "PRAGMA busy_timeout=5000;PRAGMA cache_size=-20000"
    ),
}
DATABASES = {
    "default": dj_database_url.parse(os.environ.get("DATABASE_URL") or f"sqlite:///{VAR_DIR / 'fleet.sqlite3'}")
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["email", "name"]},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
ACCOUNT_ADAPTER = "fleet.accounts.adapter.ClosedSignUpAdapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = None
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
# A second factor: what it is sealed with, the newest key first; an older one stays until nothing needs it any more.
FACTOR_KEYS = [key for key in env_secret("FLEET_FACTOR_KEY").replace(",", " ").split() if key]
MFA_ADAPTER = "fleet.accounts.factor_adapter.SealedFactors"
MFA_FORMS = {
    "activate_totp": "fleet.accounts.factor_forms.AppCodeForm",
    "authenticate": "fleet.accounts.factor_forms.SecondStepForm",
    "reauthenticate": "fleet.accounts.factor_forms.CodeOnceMoreForm",
    "authenticate_webauthn": "fleet.accounts.factor_forms.OwnPasskeyForm",
    "reauthenticate_webauthn": "fleet.accounts.factor_forms.PasskeyOnceMoreForm",
    "login_webauthn": "fleet.accounts.factor_forms.PasskeySignInForm",
    "add_webauthn": "fleet.accounts.factor_forms.PasskeyForm",
    "edit_webauthn": "fleet.accounts.factor_forms.PasskeyNameForm",
}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
# An address is proved by the link that was sent to it, not by the library's own mail.
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_TOTP_ISSUER = "Brake tests"
# A ship's clock and a phone's differ.
MFA_TOTP_TOLERANCE = 1
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not PRODUCTION
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
DEFAULT_FROM_EMAIL = os.environ.get("FLEET_MAIL_FROM", "brake-tests@localhost")
EMAIL_BACKEND = os.environ.get(
    "FLEET_MAIL_BACKEND",
    "django.core.mail.backends.smtp.EmailBackend" if PRODUCTION else "django.core.mail.backends.console.EmailBackend",
)
EMAIL_HOST = os.environ.get("FLEET_MAIL_HOST", "localhost")
EMAIL_PORT = env_int("FLEET_MAIL_PORT", 25)
EMAIL_HOST_USER = os.environ.get("FLEET_MAIL_USER", "")
EMAIL_HOST_PASSWORD = env_secret("FLEET_MAIL_PASSWORD")
EMAIL_USE_TLS = env_bool("FLEET_MAIL_TLS", False)

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "fleet" / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "fleet" / "static"]
WHITENOISE_USE_FINDERS = not PRODUCTION
MEDIA_ROOT = VAR_DIR / "files"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1000

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
        "manifest-src": [SELF],
    }
}
X_FRAME_OPTIONS = "DENY"
BEHIND_PROXY = env_bool("FLEET_BEHIND_PROXY", False)
# How many proxies of our own a request comes through; each notes in X-Forwarded-For whom it heard from.
PROXY_DEPTH = env_int("FLEET_PROXY_DEPTH", 1 if BEHIND_PROXY else 0)
if PROXY_DEPTH < 0:
    raise ImproperlyConfigured("FLEET_PROXY_DEPTH counts proxies: 0 or more.")
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = env_int("FLEET_SESSION_SECONDS", 12 * 3600)
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "fleet.core.kept_forms.csrf_failure"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
if PRODUCTION:
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    # Names that browsers take from this host alone, by https, and for the whole site.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    SECURE_SSL_REDIRECT = env_bool("FLEET_HTTPS_REDIRECT", True)
    SECURE_HSTS_SECONDS = env_int("FLEET_HSTS_SECONDS", 31_536_000)
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache"
        if not PRODUCTION
        else "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "fleet_cache",
    }
}
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    WHITENOISE_AUTOREFRESH = True

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": os.environ.get("FLEET_LOG_LEVEL", "WARNING")},
    # Anyone may hand over a file that is wrongly signed: that is an answer to them, not an event of ours.
    "loggers": {name: {"level": "CRITICAL"} for name in ("pyhanko", "pyhanko_certvalidator")},
}
