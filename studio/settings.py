"""Settings, every one from the environment, each with a safe default.

Three ways to run, chosen by STUDIO_MODE:

- `local` (default): this machine only, plain HTTP; a secret is made once and kept in the data folder.
- `lan`: plain HTTP on the studio's own network; the hosts that may be asked for are named in STUDIO_HOSTS.
- `https`: behind TLS; SECRET_KEY, STUDIO_HOSTS and DATABASE_URL are demanded, cookies travel over HTTPS only.
"""

import secrets
import sys
from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from studio.wiring import NEIGHBORS, PANELS, REVERSAL_FOLLOWERS  # noqa: F401

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()


def flag(name: str, default: bool) -> bool:
    """A yes or no from the environment; anything else stops start-up rather than counting as no."""
    text = env.str(name, default=str(default)).strip().lower()
    if text not in {"true", "false", "1", "0", "yes", "no", "on", "off"}:
        raise ImproperlyConfigured(f"{name} is {text!r}; write true or false.")
    return text in {"true", "1", "yes", "on"}


def whole(name: str, default: int, *, at_least: int = 1) -> int:
    """A whole number from the environment; an odd value stops start-up."""
    text = env.str(name, default=str(default)).strip()
    if not text.isascii() or not text.isdigit() or int(text) < at_least:
        raise ImproperlyConfigured(f"{name} is {text!r}; write a whole number, {at_least} or more.")
    return int(text)


MODE = env.str("STUDIO_MODE", default="local")
if MODE not in {"local", "lan", "https"}:
    raise ImproperlyConfigured(f"STUDIO_MODE is {MODE!r}; write local, lan or https.")

DEMO = flag("STUDIO_DEMO", False)
DEBUG = flag("DEBUG", False)
if DEBUG and MODE != "local":
    raise ImproperlyConfigured(
        "DEBUG shows visitors the inside of the studio; use it with STUDIO_MODE=local alone."
    )

DATA_DIR = Path(env.str("STUDIO_DATA", default=str(BASE_DIR / "data"))).expanduser().resolve()
if DEMO:
    # A folder of its own: nothing the demonstration does can touch the studio's books.
    DATA_DIR = DATA_DIR / "demo"
# The books and their backups are nobody else's on this machine.
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


def kept_secret() -> str:
    """The secret for a run on this machine: made on the first run, readable by its owner alone."""
    path = DATA_DIR / "secret"
    try:
        return path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(50), encoding="ascii")
        return path.read_text(encoding="ascii").strip()


SECRET_KEY = env.str("SECRET_KEY", default="")
if MODE == "https" and len(SECRET_KEY) < 32:
    raise ImproperlyConfigured("SECRET_KEY is missing or short; set one of at least 32 random characters.")
SECRET_KEY = SECRET_KEY or kept_secret()

# When set, the first visit must give this code before it may become the owner.
SETUP_CODE = env.str("STUDIO_SETUP_CODE", default="")

HOST = env.str("STUDIO_HOST", default="127.0.0.1" if MODE == "local" else "0.0.0.0")  # noqa: S104
PORT = whole("STUDIO_PORT", 8000)
# Processes that answer requests on PostgreSQL; SQLite, with its one writer, is served by a single one.
WORKERS = whole("STUDIO_WORKERS", 2)
STUDIO_HOSTS = [host.strip() for host in env.list("STUDIO_HOSTS", default=[]) if host.strip()]
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *STUDIO_HOSTS]
if MODE != "local" and not STUDIO_HOSTS:
    raise ImproperlyConfigured("STUDIO_HOSTS is missing; name the address people type, e.g. studio.example.")

INSTALLED_APPS = [
    "studio",
    "inventory",
    "batches",
    "costing",
    "studio.demonstration",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "csp",
    "axes",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "studio.web.middleware.SizeMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.web.middleware.StudioMiddleware",
    "studio.people.access.AccessMiddleware",
    "studio.web.middleware.SubmissionMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.web.context.frame",
            ],
            "builtins": ["studio.templatetags.show"],
        },
    }
]
FORM_RENDERER = "studio.web.forms.Renderer"

if MODE == "https" and not env.str("DATABASE_URL", default=""):
    raise ImproperlyConfigured("DATABASE_URL is missing; name the PostgreSQL database that keeps the books.")
DATABASES = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{(DATA_DIR / 'books.sqlite3').as_posix()}")
    if not DEMO
    else {"ENGINE": "django.db.backends.sqlite3", "NAME": str(DATA_DIR / "books.sqlite3")}
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE takes the write lock before the first read, so that a check and the write it allows are one;
    # FULL survives a power cut. The journal is chosen once at set-up (see studio.storage).
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 30,
        "init_command": "PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; PRAGMA cache_size=-20000;",
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    # NIST SP 800-63B: length and a list of common passwords, no composition rules.
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "studio.web.errors.csrf_failure"
# Who may sign in to the demonstration, told on its sign-in page; nobody in a studio of its own.
DEMO_PEOPLE = "studio.demonstration.building.PEOPLE" if DEMO else ""
if DEMO:
    # Own names, so that a demonstration beside the real books on one machine signs nobody out.
    SESSION_COOKIE_NAME = "demo_sessionid"
    CSRF_COOKIE_NAME = "demo_csrftoken"

# By address and account together: a lockout by account alone would let anybody lock a colleague out.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_CALLABLE = "studio.web.errors.locked_out"
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False
AXES_DISABLE_ACCESS_LOG = True
AXES_SENSITIVE_PARAMETERS: list[str] = ["username", "password"]

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if MODE == "https":
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^health/$"]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    # Else everybody would come from the proxy's address, and a stranger could lock any name out.
    AXES_CLIENT_IP_CALLABLE = "studio.people.access.client_address"
    SECURE_HSTS_SECONDS = whole("STUDIO_HSTS_SECONDS", 60 * 60 * 24 * 365, at_least=0)
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    CSRF_TRUSTED_ORIGINS = [f"https://{host.lstrip('.')}" for host in STUDIO_HOSTS]
    # A studio speaks for its own address, not for every name below its domain.
    SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
# The largest file that is taken in. Up to three times as much is read, so that the form can say what was wrong with
# it; a request that announces more is turned away unread.
UPLOAD_LIMIT = whole("STUDIO_UPLOAD_MB", 10) * 1_000_000
REQUEST_LIMIT = 3 * UPLOAD_LIMIT
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = env.str("STUDIO_TIME_ZONE", default="UTC")

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "studio.web.static_files.ModuleStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain", "stream": sys.stderr}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
