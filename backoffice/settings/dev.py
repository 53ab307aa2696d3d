"""A laptop and `manage.py demo`: embedded defaults, nothing to set."""

from backoffice.settings.base import *

SECRET_KEY = SECRET_KEY or "not-secret-used-on-this-machine-only"
ALLOWED_HOSTS = ALLOWED_HOSTS or ["127.0.0.1", "localhost", "[::1]"]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
SILENCED_SYSTEM_CHECKS: list[str] = []
