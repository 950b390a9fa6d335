"""Settings: everything that differs between machines comes from the environment."""

import os
from pathlib import Path
from tempfile import gettempdir
from typing import Any

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from config.secret import VAR, kept_secret
from takeoff.database.closing import OptimizedConnection

BASE_DIR = Path(__file__).resolve().parent.parent

env = environ.Env()

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret() or ""
if not SECRET_KEY:
    raise ImproperlyConfigured("Set SECRET_KEY in the environment, or run `manage.py demo` once: it makes one.")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tables2",
    "django_filters",
    "django_tasks",
    "django_tasks_db",
    "axes",
    "csp",
    "takeoff",
    "reels",
    "kits",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",  # safe with what our pages hold: docs/decisions/compression.md
    "csp.middleware.CSPMiddleware",
    "takeoff.people.limits.SizeMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "takeoff.people.middleware.SiteMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

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
                "kits.overview.navigation.frame",
            ],
        },
    },
]


def database(url: str) -> dict[str, Any]:
    """Return one database's settings: SQLite gets the write-ahead log and takes its lock when a transaction starts."""
    settings: dict[str, Any] = env.db_url_config(url)
    if settings["ENGINE"].endswith("sqlite3"):
        settings["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": (
                "PRAGMA journal_mode = WAL;"
                "PRAGMA synchronous = NORMAL;"
                # Without it REPLACE deletes rows behind the back of the guards on the ledger.
                "PRAGMA recursive_triggers = ON;"
            ),
            "factory": OptimizedConnection,
        }
        # A test database in a file (in memory, two threads cannot take turns on it), one for each process of tests.
        settings["TEST"] = {"NAME": str(Path(gettempdir()) / f"reelkeep-test-{os.getpid()}.sqlite3")}
    else:
        settings["CONN_MAX_AGE"] = 60
        settings["CONN_HEALTH_CHECKS"] = True
        # To compile a query takes longer than to run what our pages ask.
        options = settings.setdefault("OPTIONS", {})
        options["options"] = f"{options.get('options', '')} -c jit=off".strip()
    return settings


if "DATABASE_URL" not in os.environ:
    VAR.mkdir(exist_ok=True)
DATABASES = {"default": database(env.str("DATABASE_URL", default=f"sqlite:///{VAR / 'reelkeep.sqlite3'}"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "takeoff.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "takeoff/people/locked_out.html"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"

LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = env.path("STATIC_ROOT", default=str(VAR / "static"))
STATICFILES_DIRS = [BASE_DIR / "templates" / "static"]
# Web processes and workers on several machines must share this folder: uploads wait in it.
MEDIA_ROOT = env.path("MEDIA_ROOT", default=str(VAR / "media"))
# So with the photos that people take: docs/photos.md.
PHOTOS_DIR = env.path("PHOTOS_DIR", default=str(VAR / "photos"))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

# What a request may send, files and all: more is refused before any of it is read.
CSRF_FAILURE_VIEW = "takeoff.people.views.csrf_failed"
MOST_BYTES_OF_A_REQUEST = 40 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "blob:"],  # a photo that is still on the phone
        "object-src": [NONE],
        "base-uri": [SELF],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = not DEBUG
# A proxy in front ends TLS, and says for whom it asks. Without one nobody may say so.
BEHIND_PROXY = env.bool("BEHIND_PROXY", default=False)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
AXES_CLIENT_IP_CALLABLE = "takeoff.people.limits.asking_address"
SECURE_HSTS_SECONDS = 0 if DEBUG else 365 * 24 * 3600
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = not DEBUG

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"django": {"handlers": ["console"], "level": "INFO" if DEBUG else "WARNING", "propagate": False}},
}
DJANGO_TABLES2_TEMPLATE = "parts/table.html"
