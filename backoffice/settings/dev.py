"""One machine, http on 127.0.0.1, nothing to set: embedded defaults and a secret made once and kept beside the data."""

from backoffice.settings.base import *

SECRET_KEY = SECRET_KEY or kept_secret(VAR_DIR / "secret")
ALLOWED_HOSTS = ALLOWED_HOSTS or ["127.0.0.1", "localhost", "[::1]"]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
SILENCED_SYSTEM_CHECKS: list[str] = []
