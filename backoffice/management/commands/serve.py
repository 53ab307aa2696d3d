import os
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from backoffice.team.queries import nobody_is_here
from backoffice.upkeep.serving import address, prepare, serve


class Command(BaseCommand):
    help = "Serve the back office, with the database and the static files brought up to date first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=int(os.environ.get("PORT", "8000")))
        parser.add_argument("--bind", default="127.0.0.1", help="the address to listen on")

    def handle(self, *args: Any, **options: Any) -> None:
        bind, port = options["bind"], options["port"]
        prepare()
        where = address(bind=bind, port=port)
        if "PUBLIC_ADDRESS" not in os.environ:
            settings.PUBLIC_ADDRESS = where
        first = " Open it to set up your business." if nobody_is_here() else ""
        self.stdout.write(f"Serving {where}{first} Stop with Ctrl-C.")
        serve(bind=bind, port=port)
