"""Static files under names that change with their bytes, also where one script imports another.

A phone keeps scripts for weeks: an import must lead to the very file that was kept beside it.
"""

from django.contrib.staticfiles.storage import ManifestStaticFilesStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedFiles(ManifestStaticFilesStorage):
    support_js_module_import_aggregation = True


class CompressedHashedFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    support_js_module_import_aggregation = True
