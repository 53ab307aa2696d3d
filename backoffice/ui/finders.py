"""Static files that PyPI packages carry for us: an allow-list of Bootstrap and the two font families."""

import importlib.util
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

WEIGHTS = {"sans": ("Regular", "It", "Semibold", "Bold"), "serif": ("Regular", "Semibold")}


def _folder(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise ModuleNotFoundError(package)
    return Path(spec.submodule_search_locations[0])


def carried_files() -> dict[str, Path]:
    """Static path → file on disk."""
    bootstrap = _folder("flask_bootstrap") / "static" / "bootstrap5"
    names = ("css/bootstrap.min.css", "css/bootstrap.min.css.map")
    found = {f"bootstrap/{Path(name).name}": bootstrap / name for name in names}
    for family, weights in WEIGHTS.items():
        folder = _folder(f"font_source_{family}_pro") / "files"
        for weight in weights:
            name = f"Source{family.title()}Pro-{weight}.ttf"
            found[f"fonts/{name}"] = folder / name
    return found


class CarriedFilesFinder(BaseFinder):
    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        file = carried_files().get(path)
        return [str(file)] if find_all and file else str(file) if file else []

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        for path, file in carried_files().items():
            storage = _OneFile(location=str(file.parent), path=path, file=file)
            yield path, storage


class _OneFile(FileSystemStorage):
    """A storage that knows one file by its static path."""

    def __init__(self, *, location: str, path: str, file: Path) -> None:
        super().__init__(location=location)
        self._path, self._file = path, file
        self.prefix = ""

    def path(self, name: str) -> str:
        return str(self._file) if name == self._path else super().path(name)
