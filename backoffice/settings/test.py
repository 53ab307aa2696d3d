"""The suite: SQLite in a temporary file (threads share it), or PostgreSQL by DATABASE_URL; plain static files."""

import os
import tempfile
from pathlib import Path

from backoffice.settings.base import *

SECRET_KEY = "test-only-key-of-sufficient-length-for-every-use-made-of-it"  # noqa: S105
ALLOWED_HOSTS = ["*"]
TEST_DIR = Path(tempfile.mkdtemp(prefix="backoffice-test-"))
DATABASES = {"default": database(os.environ.get("DATABASE_URL", f"sqlite:///{TEST_DIR / 'unused.sqlite3'}"))}
DATABASES["default"]["CONN_MAX_AGE"] = 0
if "sqlite3" in str(DATABASES["default"]["ENGINE"]):
    DATABASES["default"]["TEST"] = {"NAME": str(TEST_DIR / "test.sqlite3")}
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 60,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;",
    }
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
PRIVATE_ROOT = Path(os.environ.get("PRIVATE_ROOT", TEST_DIR / "private"))
STORAGES["default"] = in_folder(PRIVATE_ROOT)
ERASURES_FILE = TEST_DIR / "erasures.jsonl"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
MAIL_GOES = True
AXES_ENABLED = False
CRISPY_FAIL_SILENTLY = False  # a layout that names no field is a mistake
WORK_AT_ONCE = True

TIME_ZONE = "America/Denver"  # of the business that the factories make: tests hold at any hour
