"""Settings, from the environment only; `.env.example` lists every variable.

A malformed value stops the start with the variable's name.
"""

import os
import zoneinfo
from datetime import timedelta
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key

from inventory.rules import throttle

BASE_DIR = Path(__file__).resolve().parent.parent


def text(name: str, default: str = "") -> str:
    return os.environ.get(name, "").strip() or default


def switch(name: str, *, default: bool = False) -> bool:
    value = text(name).lower()
    if value in {"1", "true", "yes", "on"}:
        return True
    if value in {"0", "false", "no", "off"}:
        return False
    if value:
        raise ImproperlyConfigured(f"{name} must be 1 or 0, got {value!r}.")
    return default


def several(name: str, default: str = "") -> list[str]:
    return [part.strip() for part in text(name, default).split(",") if part.strip()]


def one_of(name: str, *, allowed: tuple[str, ...]) -> str:
    value = text(name, allowed[0])
    if value not in allowed:
        raise ImproperlyConfigured(f"{name} must be one of {', '.join(allowed)}, got {value!r}.")
    return value


def whole_number(name: str, *, default: int, most: int) -> int:
    value = text(name, str(default))
    if not value.isascii() or not value.isdigit() or not 1 <= int(value) <= most:
        raise ImproperlyConfigured(f"{name} must be a whole number from 1 to {most}, got {value!r}.")
    return int(value)


def secret_key(data_dir: Path) -> str:
    """The key of the environment, else one made once and kept beside the data, readable by its owner only."""
    if key := text("SECRET_KEY"):
        return key
    kept = data_dir / "secret_key"
    if not kept.exists():
        try:
            with os.fdopen(os.open(kept, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as file:
                file.write(get_random_secret_key())
        except FileExistsError:  # another process made it between the two lines
            pass
    return kept.read_text()


def database(data_dir: Path) -> dict[str, Any]:
    url = text("DATABASE_URL", f"sqlite:///{data_dir / 'lot.sqlite3'}")
    try:
        chosen: dict[str, Any] = dict(dj_database_url.parse(url, conn_max_age=60, conn_health_checks=True))
    except (ValueError, KeyError) as problem:
        raise ImproperlyConfigured(f"DATABASE_URL cannot be read: {problem}.") from problem
    if chosen["ENGINE"] == "django.db.backends.sqlite3":
        # IMMEDIATE: a writer waits for the lock when it begins, instead of failing when it first writes.
        # FULL: what was acknowledged is on the disk, should the power go.
        chosen["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
        }
        chosen["TEST"] = {"NAME": str(data_dir / "test.sqlite3")}
    elif chosen["ENGINE"] == "django.db.backends.postgresql":
        # A server that fell silent is given up soon, so that a page can say so. The address may say otherwise.
        silence = {"connect_timeout": 5, "keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3}
        # Compiling a statement that is then run for 40 ms took two seconds.
        plain = {"options": "-c jit=off"}
        chosen["OPTIONS"] = {**silence, **plain, "tcp_user_timeout": 20_000, **chosen.get("OPTIONS", {})}
    return chosen


def time_zone() -> str:
    name = text("LOT_TIME_ZONE", "America/Chicago")
    if name not in zoneinfo.available_timezones():
        raise ImproperlyConfigured(f"LOT_TIME_ZONE must be a time zone such as America/Chicago, got {name!r}.")
    return name


DATA_DIR = Path(text("DATA_DIR", str(BASE_DIR / ".data"))).resolve()
for folder in (DATA_DIR, DATA_DIR / "static", DATA_DIR / "media"):
    folder.mkdir(parents=True, exist_ok=True)

DEBUG = switch("DEBUG")
HTTPS = switch("HTTPS")
SECRET_KEY = secret_key(DATA_DIR)
KEY_IS_OF_THIS_MACHINE = not text("SECRET_KEY")
ALLOWED_HOSTS = several("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = several("CSRF_TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "inventory.apps.InventoryConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_tasks",
    "django_tasks_db",
    "csp",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
]
MIDDLEWARE = [
    "inventory.middleware.probes.Probes",
    "inventory.middleware.watched.Watched",
    "inventory.middleware.headers.Headers",
    "inventory.pages.by_link.PrivateAnswers",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "inventory.urls"
WSGI_APPLICATION = "inventory.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "inventory.pages.access.actor_in_templates",
            ],
        },
    }
]

DATABASES = {"default": database(DATA_DIR)}
# How often links are tried is counted across all workers. `migrate` makes the table (apps.py).
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "inventory_cache",
        "OPTIONS": {"MAX_ENTRIES": 50_000},  # more addresses than an hour of the fastest counting can leave behind
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "inventory.User"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "lot"
LOGOUT_REDIRECT_URL = "sign_in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",  # refuses whoever tried too often; it signs nobody in
    "django.contrib.auth.backends.ModelBackend",
]

# Wrong passwords are counted in the database, for all workers; how many are allowed says `rules/throttle`. Kept is the
# name that was typed and a stand-in for the address, until the wait is over and the next wrong try clears the table.
AXES_HANDLER = "inventory.pages.sign_in_tries.SignInTries"
AXES_LOCKOUT_PARAMETERS = ["username", "ip_address"]
AXES_FAILURE_LIMIT = throttle.ACCOUNT_FAILED
AXES_COOLOFF_TIME = timedelta(seconds=throttle.SIGN_IN_WAIT)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_CLIENT_IP_CALLABLE = "inventory.pages.sign_in_tries.address_of"
AXES_USERNAME_CALLABLE = "inventory.pages.sign_in_tries.name_of"
AXES_LOCKOUT_CALLABLE = "inventory.pages.sign_in_tries.told_to_wait"
AXES_DISABLE_ACCESS_LOG = True  # none of who signed in when and from where
AXES_ENABLE_ACCESS_FAILURE_LOG = False
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "csrfmiddlewaretoken", "next", "own_password"]
AXES_VERBOSE = False

LANGUAGE_CODE = "en-us"
USE_TZ = True
TIME_ZONE = time_zone()

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "media"
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if MEDIA_BUCKET := text("MEDIA_BUCKET"):  # several web machines share photos and papers; django-storages[s3] is needed
    try:
        from boto3.s3.transfer import TransferConfig
        from botocore.config import Config
    except ImportError as problem:
        raise ImproperlyConfigured("MEDIA_BUCKET needs the package django-storages[s3].") from problem
    STORAGES["default"] = {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": MEDIA_BUCKET,
            "endpoint_url": text("MEDIA_ENDPOINT") or None,
            "region_name": text("MEDIA_REGION") or None,
            "file_overwrite": False,
            "max_memory_size": 8 * 2**20,  # a clip that is read lies on the disk for the while, not in the memory
            # A bucket that fell silent is given up soon, so that a page can say so.
            "client_config": Config(connect_timeout=5, read_timeout=15, retries={"total_max_attempts": 2}),
            "transfer_config": TransferConfig(use_threads=False),  # 8 MB of a clip in memory at a time
            "default_acl": None,  # private: every file is served by a view that asks who wants it
        },
    }
FILE_UPLOAD_PERMISSIONS = 0o640
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20

# Mail. Without a server it is written to the console, or to files for the demo; consignors' links need PUBLIC_URL.
PUBLIC_URL = text("PUBLIC_URL", "http://localhost:8000").rstrip("/")
EMAIL_BACKEND = {
    "console": "django.core.mail.backends.console.EmailBackend",
    "file": "django.core.mail.backends.filebased.EmailBackend",
    "smtp": "inventory.smtp.EmailBackend",
}[one_of("MAIL", allowed=("console", "file", "smtp"))]
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_HOST = text("SMTP_HOST", "localhost")
EMAIL_PORT = whole_number("SMTP_PORT", default=587, most=65535)
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = text("SMTP_USER"), text("SMTP_PASSWORD")
EMAIL_USE_TLS = switch("SMTP_STARTTLS", default=True)
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = text("MAIL_FROM", "lot@localhost")

TASKS = {
    "default": {
        "BACKEND": {
            "database": "django_tasks_db.DatabaseBackend",
            "immediate": "django_tasks.backends.immediate.ImmediateBackend",
        }[one_of("TASKS", allowed=("database", "immediate"))]
    }
}

# Security. Behind HTTPS everything is strict; without it (one machine, loopback) cookies must still work.
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"  # Strict would sign out whoever follows a link from a mail
# With HTTPS the browser itself sees to it that only this host set them, and over TLS (ASVS 5.0, 3.3.1 and 3.3.3).
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = (f"{'__Host-' if HTTPS else ''}{name}" for name in ("sessionid", "csrftoken"))
MESSAGE_STORAGE = "inventory.middleware.told.Told"
CSRF_FAILURE_VIEW = "inventory.failures.csrf_failure"
SESSION_COOKIE_AGE = 14 * 24 * 3600
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
BEHIND_PROXY = switch("BEHIND_PROXY")
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],  # each kind that is used stands below; frames, objects and the rest are not
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "media-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "inventory.api.auth.StaffSessionAuthentication",
        "inventory.api.auth.ApiTokenAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_FILTER_BACKENDS": [
        "django_filters.rest_framework.DjangoFilterBackend",
        "rest_framework.filters.OrderingFilter",
    ],
    "DEFAULT_PAGINATION_CLASS": "inventory.api.paging.Pages",
    "PAGE_SIZE": 50,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "inventory.api.errors.answer",
    "COERCE_DECIMAL_TO_STRING": True,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Consignment lot API",
    "DESCRIPTION": "The records and moves of a consignment lot. Money is a string with two decimals.",
    "VERSION": "1.0.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
}

# Watching it run. JSON for programs, plain for a person; see inventory/logs.py for what a line may say.
LOG_FORMAT = one_of("LOG_FORMAT", allowed=("json", "plain") if HTTPS or BEHIND_PROXY else ("plain", "json"))
_usual = "INFO" if LOG_FORMAT == "json" else "WARNING"
LOG_LEVEL = one_of("LOG_LEVEL", allowed=(_usual, "DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL"))
METRICS_TOKEN = text("METRICS_TOKEN")
if METRICS_TOKEN and len(METRICS_TOKEN) < 20:
    raise ImproperlyConfigured("METRICS_TOKEN must have at least 20 characters.")
LEAST_FREE_DISK = whole_number("LEAST_FREE_DISK_MB", default=200, most=10**9) * 2**20
BACKUP_MARK = DATA_DIR / "last_backup"  # whoever backs up touches it when done
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "inventory.logs.JsonLines"}, "plain": {"()": "inventory.logs.PlainLines"}},
    "filters": {"no_links": {"()": "inventory.logs.HidePrivateLinks"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT, "filters": ["no_links"]}},
    "root": {"handlers": ["console"], "level": LOG_LEVEL},
    "loggers": {
        "django": {"handlers": ["console"], "level": LOG_LEVEL, "propagate": False},
        "django.request": {"level": "ERROR"},  # what was refused stands in our own line, without the path
        "django.db.backends": {"level": "INFO"},  # below it SQL is told with its values
        "django.template": {"level": "INFO"},  # below it rows are told with their names
        "django.server": {"handlers": ["console"], "level": "CRITICAL", "propagate": False},  # whole paths
    },
}
