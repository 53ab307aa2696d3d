from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from backoffice.demo.starting import start_again


class Command(BaseCommand):
    help = "Build the invented demo business in a database of its own, from nothing, and serve it."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop after building")
        parser.add_argument("--documents", type=Path, metavar="DIR", help="write one PDF of every kind there is")
        parser.add_argument("--port", type=int, default=8000, help="the port to serve on (8000)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.SETTINGS_MODULE.endswith(".demo"):
            raise CommandError("The demo runs with backoffice.settings.demo only, so that it touches nothing else.")
        start_again(
            say=self.stdout.write,
            documents=options["documents"],
            port=options["port"],
            serve_it=not options["no_serve"],
        )
