"""`manage.py demo`: the invented scenario in a database and a folder of its own, beside whatever else is there."""

from backoffice.settings.dev import *

VAR_DIR = VAR_DIR / "demo"
DATABASES = {"default": database(f"sqlite:///{VAR_DIR / 'demo.sqlite3'}")}
# made anew by one command, so nothing is lost that a power cut could take
DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"  # type: ignore[index]
STATIC_ROOT = VAR_DIR / "static"
PRIVATE_ROOT = VAR_DIR / "private"
STORAGES["default"] = in_folder(PRIVATE_ROOT)
ERASURES_FILE = VAR_DIR / "erasures.jsonl"
EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
EMAIL_FILE_PATH = VAR_DIR / "mail"
MAIL_GOES = True
