"""Settings, read from the environment; every name that a shop may set stands in shopflow/docs/settings.md."""

import hashlib
import os
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from shopflow import logs

BASE_DIR = Path(__file__).resolve().parent.parent

env = environ.Env()

DATA_DIR = Path(env.str("SHOPFLOW_DATA", default=str(BASE_DIR / ".data"))).resolve()
"""Database, files by hash, caches and the secret key of one shop."""

# Socket paths end at 107 bytes, and a data folder may lie deep: sockets go to a short folder named for it.
RUNTIME_DIR = Path(
    env.str(
        "SHOPFLOW_RUNTIME",
        default=str(
            Path(tempfile.gettempdir())
            / f"shopflow-{os.getuid()}-{hashlib.sha256(str(DATA_DIR).encode()).hexdigest()[:8]}"
        ),
    )
)


def _secret_key() -> str:
    """The key from the environment, else one made once and kept in the data folder, readable by its owner only."""
    given: str = env.str("SECRET_KEY", default="")
    if given:
        return given
    path = DATA_DIR / "secret-key"
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    try:
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        return path.read_text()
    with os.fdopen(descriptor, "w") as handle:
        handle.write(os.urandom(48).hex())
    return path.read_text()


DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = _secret_key()
SITE_URL = env.str("SITE_URL", default="http://localhost:8000").rstrip("/")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[SITE_URL])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
    "shopflow.records",
    "shopflow.people",
    "shopflow.shop",
    "shopflow.jobs",
    "shopflow.programs",
    "shopflow.floor",
    "shopflow.inspection",
    "shopflow.papers",
    "shopflow.workflow",
    "shopflow.commands",
]

MIDDLEWARE = [
    "shopflow.logs.request_id",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "shopflow.people.sessions.StationSessionMiddleware",
    "shopflow.people.page_access.PageAccessMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "shopflow.urls"
WSGI_APPLICATION = "shopflow.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "shopflow" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shopflow.people.context.shop",
            ],
        },
    },
]

DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'shop.sqlite3'}")}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE takes the write lock at BEGIN, so that two writers wait for each other instead of failing half-way.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; PRAGMA recursive_triggers=ON;"
        ),
    }
else:
    DATABASES["default"].setdefault("CONN_MAX_AGE", 60)
    DATABASES["default"].setdefault("CONN_HEALTH_CHECKS", True)
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

FILES_DIR = Path(env.str("SHOPFLOW_FILES", default=str(DATA_DIR / "files")))
CACHE_DIR = Path(env.str("SHOPFLOW_CACHE", default=str(DATA_DIR / "cache")))
"""Results and checkpoints of long work: may be emptied at any time."""
os.environ.setdefault("NUMBA_CACHE_DIR", str(CACHE_DIR / "numba"))  # numba reads it when it is imported

AUTH_USER_MODEL = "people.User"
LOGIN_URL = "people:log_in"
LOGIN_REDIRECT_URL = "workflow:home"
LOGOUT_REDIRECT_URL = "people:log_in"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "shopflow" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = env.str("TIME_ZONE", default="UTC")

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "shopflow" / "static"]
STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]  # what packages bring is bundled
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": DATA_DIR / "unused"}},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

FILES_URL = env.str("FILES_URL", default="")
"""s3://bucket/folder keeps the files in a storage service, whose address and keys stand in AWS_… variables (boto3)."""
if FILES_URL:
    _files_at = urlsplit(FILES_URL)
    if _files_at.scheme != "s3" or not _files_at.netloc:
        raise ImproperlyConfigured(f"FILES_URL is {FILES_URL!r}; write s3://bucket/folder, or nothing for a folder")
    STORAGES["files"] = {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {"bucket_name": _files_at.netloc, "location": _files_at.path.strip("/"), "file_overwrite": True},
    }

MAX_UPLOAD_BYTES = env.int("MAX_UPLOAD_BYTES", default=100 * 1024 * 1024)
FILE_UPLOAD_HANDLERS = ["shopflow.records.uploads.BoundedUpload"]
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
# A list of 500 characteristics is one form; the size above is the limit that protects the server.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000

REDIS_URL = env.str("REDIS_URL", default=f"redis+socket://{RUNTIME_DIR / 'redis.sock'}")
CELERY_BROKER_URL = REDIS_URL
CELERY_TASK_IGNORE_RESULT = True  # results live in rows (records.work)
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_PROC_ALIVE_TIMEOUT = 120  # a pool process compiles the kernels where the cache was emptied
CELERY_TASK_TIME_LIMIT = 15 * 60
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 30 * 60}  # over the longest task, or it would run twice
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE: dict[str, dict[str, object]] = {
    "sweep-work": {"task": "shopflow.records.tasks.sweep_work", "schedule": 15.0},
    "chain-heads": {"task": "shopflow.records.tasks.chain_heads", "schedule": 24 * 3600.0},
    "read-outdated": {"task": "shopflow.jobs.tasks.read_outdated", "schedule": 300.0},
    "review-what-changed": {"task": "shopflow.programs.tasks.review_what_changed", "schedule": 60.0},
    "sweep-orphans": {"task": "shopflow.records.tasks.sweep_orphans", "schedule": 3600.0},
}

SERVED_BY_TLS = SITE_URL.startswith("https://")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = SERVED_BY_TLS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if env.bool("BEHIND_PROXY", default=False) else None
ON_OWN_NETWORK = env.bool("LAN", default=False)
# HSTS covers every port of a host: with a certificate that a device does not know yet it would shut the plain-http page
# that installs it, and once the authority is removed the shop's address would be dead for a month.
SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", default=30 * 24 * 3600 if SERVED_BY_TLS and not ON_OWN_NETWORK else 0)
# A shop has neither subdomains to answer for nor a place on the browsers' preload lists.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "media-src": [SELF, "blob:"],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    },
}

LOGGING = logs.configuration(form=env.str("LOG_FORMAT", default="plain"), level=env.str("LOG_LEVEL", default="INFO"))
