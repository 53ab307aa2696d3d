"""`manage.py serve` where no settings are named: real work on one machine, with the data and the secret of `dev`."""

from backoffice.settings.dev import *

# named by content, so that browsers may keep them; not compressed, which takes long and gains nothing on one machine
STORAGES["staticfiles"] = {"BACKEND": "backoffice.ui.static_storage.HashedFiles"}
WHITENOISE_USE_FINDERS = False
