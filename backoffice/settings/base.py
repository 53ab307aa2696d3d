"""What every setting shares. Values come from the environment; `dev`, `test` and `prod` say where they differ."""

import os
import secrets
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR_DIR = Path(os.environ.get("BACKOFFICE_VAR", BASE_DIR / "var"))


def kept_secret(file: Path) -> str:
    """A random secret, made at first use and readable by its owner only; the seal key cannot be opened without it."""
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        made = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return file.read_text().strip()
    with os.fdopen(made, "w") as new:
        new.write(secrets.token_urlsafe(64))
    return file.read_text()


SECRET_KEY = os.environ.get("SECRET_KEY", "")
SECRET_KEY_FALLBACKS = [key for key in os.environ.get("SECRET_KEY_FALLBACKS", "").split(",") if key]
DEBUG = False
ALLOWED_HOSTS = [host for host in os.environ.get("ALLOWED_HOSTS", "").split(",") if host]
PUBLIC_ADDRESS = os.environ.get("PUBLIC_ADDRESS", "http://127.0.0.1:8000")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "crispy_bootstrap5",
    "crispy_forms",
    "csp",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "backoffice",
    "clients",
    "billing",
]

MIDDLEWARE = [
    "backoffice.links.proxy.BehindProxyMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "backoffice.business.middleware.BusinessTimeMiddleware",
    "backoffice.team.middleware.TeamMiddleware",
    "backoffice.ui.middleware.RefusedMiddleware",
    "axes.middleware.AxesMiddleware",
]

BEHIND_PROXY = False
ROOT_URLCONF = "backoffice.urls"
WSGI_APPLICATION = "backoffice.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "backoffice.ui.template_loader.Loader",
                    str(BASE_DIR / "templates"),
                    ["django.template.loaders.app_directories.Loader"],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "backoffice.ui.context.frame",
            ],
            "builtins": ["backoffice.ui.templatetags.ui"],
        },
    },
]


def database(url: str) -> dict[str, object]:
    """SQLite that keeps every commit through power loss and has writers wait; PostgreSQL as it comes."""
    config = dict(dj_database_url.parse(url, conn_max_age=60))
    if config["ENGINE"] == "django.db.backends.sqlite3":
        Path(str(config["NAME"])).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
        }
    return config


DATABASES = {"default": database(os.environ.get("DATABASE_URL", f"sqlite:///{VAR_DIR / 'backoffice.sqlite3'}"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "backoffice.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},  # NIST SP 800-63B-4: the password is the only factor
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "backoffice.team.passwords.ContextWords"},
]
LOGIN_URL = "backoffice:sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "backoffice:sign-in"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "backoffice/team/locked_out.html"
AXES_VERBOSE = False

LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"  # the business's own zone is switched on for each request
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "backoffice" / "ui" / "static"]
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "backoffice.ui.finders.CarriedFilesFinder",
]


def in_folder(folder: Path) -> dict[str, object]:
    """Private files in a folder that no web server shows."""
    options = {"location": folder, "base_url": None, "file_permissions_mode": 0o600}
    return {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": options}


def in_bucket(bucket: str) -> dict[str, object]:
    """Private files in a bucket of an S3-compatible store, whose own rules keep strangers out."""
    options = {
        "bucket_name": bucket,
        "endpoint_url": os.environ.get("S3_ENDPOINT"),
        "region_name": os.environ.get("S3_REGION"),
        "access_key": os.environ.get("S3_KEY"),
        "secret_key": os.environ.get("S3_SECRET"),
        "signature_version": "s3v4",
        "file_overwrite": False,  # what stands there stays
    }
    return {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options}


PRIVATE_ROOT = Path(os.environ.get("PRIVATE_ROOT", VAR_DIR / "private"))
S3_BUCKET = os.environ.get("S3_BUCKET", "")
STORAGES: dict[str, dict[str, object]] = {
    "default": in_bucket(S3_BUCKET) if S3_BUCKET else in_folder(PRIVATE_ROOT),
    "staticfiles": {"BACKEND": "backoffice.ui.static_storage.CompressedHashedFiles"},
}
BACKUP_DIR = os.environ.get("BACKUP_DIR", "")  # set: nightly makes a backup there and tries one a week
BACKUP_KEEP = int(os.environ.get("BACKUP_KEEP", "14"))
BACKUP_PASSPHRASE = os.environ.get("BACKUP_PASSPHRASE", "")
ERASURES_FILE = VAR_DIR / "erasures.jsonl"  # outlives a restored database
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
WORK_AT_ONCE = False  # long work goes on beside the request, see backoffice/later
WORKER = os.environ.get("WORKER", "") == "1"  # or in `manage.py work`, a process of its own
UPLOAD_MOST_BYTES = 20 * 1024 * 1024  # a scan or photo, each file
UPLOAD_MOST_PAGES = 40
UPLOAD_MOST_PIXELS = 52_000_000  # the largest photo of a common phone has 50 million
UPLOAD_MOST_UNPACKED = 400 * 1024 * 1024  # what a PDF may unpack to
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024  # a form with 5 MB of text still answers with a sentence

EMAIL_HOST = os.environ.get("EMAIL_HOST", "")
EMAIL_PORT = int(os.environ.get("EMAIL_PORT", "587"))
EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = os.environ.get("EMAIL_USE_TLS", "1") == "1"
EMAIL_TIMEOUT = 20  # seconds
MAIL_GOES = bool(EMAIL_HOST)  # without a mail server letters wait, to be read and sent by hand
DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "back-office@localhost")

FORM_RENDERER = "django.forms.renderers.TemplatesSetting"  # templates/django/forms holds what is ours
CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"
DJANGO_TABLES2_TEMPLATE = "ui/table.html"
FILTERS_EMPTY_CHOICE_LABEL = "Any"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "manifest-src": [SELF],
    },
}
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 30 * 24 * 3600  # at most; `backoffice.team.sessions` ends it sooner
CSRF_FAILURE_VIEW = "backoffice.ui.views.csrf_failure"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"backoffice": {"level": "INFO"}},  # who signs in, and who tries to
}
