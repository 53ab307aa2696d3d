"""Static files under names that change with their bytes, also where one script imports another.

A phone keeps scripts for weeks: an import must lead to the very file that was kept beside it.
Only statements are followed: `import("…")` stands for a type in a comment, in packages often of no file.
"""

from django.contrib.staticfiles.storage import HashedFilesMixin, ManifestStaticFilesStorage
from django.core.files.base import ContentFile, File
from rjsmin import jsmin
from whitenoise.storage import CompressedManifestStaticFilesStorage

STATEMENT = r"""(?P<matched>(?P<what>\b(?:import|export)\b(?:[^;"'()]*\bfrom\b)?)\s*["'](?P<url>\.[^"']+)["']\s*;)"""
FOLLOWED = (*HashedFilesMixin.patterns, ("*.js", ((STATEMENT, '%(what)s "%(url)s";'),)))
OWN_SCRIPTS = "js/"


class _Collected:
    """Our own scripts go out without their comments; those of packages as they came."""

    patterns = FOLLOWED

    def _save(self, name: str, content: File) -> str:  # type: ignore[type-arg]
        if name.startswith(OWN_SCRIPTS) and name.endswith(".js"):
            content = ContentFile(jsmin(b"".join(content.chunks())))
        return super()._save(name, content)  # type: ignore[misc,no-any-return]


class HashedFiles(_Collected, ManifestStaticFilesStorage):  # type: ignore[misc]
    pass


class CompressedHashedFiles(_Collected, CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    pass
