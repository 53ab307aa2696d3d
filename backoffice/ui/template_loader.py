"""Templates in the words of the business: read once as they are, and once in British words."""

from collections.abc import Iterator, Sequence
from typing import Any

from django.template import Origin, Template
from django.template.engine import Engine
from django.template.loaders.base import Loader as BaseLoader
from django.template.loaders.cached import Loader as CachedLoader
from django.template.loaders.filesystem import Loader as FileLoader

from backoffice.british import is_british, template_in_british


class BritishFiles(FileLoader):
    def get_contents(self, origin: Origin) -> str:
        return template_in_british(super().get_contents(origin))


class Loader(BaseLoader):
    """`others` are loaders of packages, whose templates hold no words of ours."""

    def __init__(self, engine: Engine, folder: str, others: Sequence[str] = ()) -> None:
        super().__init__(engine)
        american: Any = ["django.template.loaders.filesystem.Loader", [folder]]
        british: Any = [f"{__name__}.BritishFiles", [folder]]
        self.american = CachedLoader(engine, [american, *others])
        self.british = CachedLoader(engine, [british, *others])

    def get_template(self, template_name: str, skip: list[Origin] | None = None) -> Template:
        loader = self.british if is_british() else self.american
        return loader.get_template(template_name, skip)

    def get_template_sources(self, template_name: str) -> Iterator[Origin]:
        yield from self.american.get_template_sources(template_name)

    def reset(self) -> None:
        self.american.reset()
        self.british.reset()
