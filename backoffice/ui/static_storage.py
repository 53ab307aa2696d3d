"""Static files under names that change with their bytes, also where one script imports another.

A phone keeps scripts for weeks: an import must lead to the very file that was kept beside it.
Only statements are followed: `import("…")` stands for a type in a comment, in packages often of no file.
"""

from django.contrib.staticfiles.storage import HashedFilesMixin, ManifestStaticFilesStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage

STATEMENT = r"""(?P<matched>(?P<what>\b(?:import|export)\b(?:[^;"'()]*\bfrom\b)?)\s*["'](?P<url>\.[^"']+)["']\s*;)"""
FOLLOWED = (*HashedFilesMixin.patterns, ("*.js", ((STATEMENT, '%(what)s "%(url)s";'),)))


class HashedFiles(ManifestStaticFilesStorage):
    patterns = FOLLOWED


class CompressedHashedFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    patterns = FOLLOWED
