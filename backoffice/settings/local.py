"""`manage.py serve` where no settings are named: real work on one machine, with the data and the secret of `dev`."""

from backoffice.settings.dev import *

STORAGES["staticfiles"] = {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}
WHITENOISE_USE_FINDERS = False
