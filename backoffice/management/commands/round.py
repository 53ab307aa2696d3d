"""Order one day from a file: the round calculator, without a database."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from clients.rounds.round_file import WrongRoundFile, parse_round
from clients.rounds.round_text import plan_as_json, plan_as_text
from clients.rounds.solver import plan_day

WRONG_FILE = 2


class Command(BaseCommand):
    help = "Order one day of stops from a JSON file. A wrong file is told in full, with exit status 2."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="the day as JSON")
        parser.add_argument("--json", action="store_true", help="print the plan as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            request = parse_round(_text_of(options["file"]))
        except WrongRoundFile as wrong:
            for error in wrong.errors:
                self.stderr.write(error)
            sys.exit(WRONG_FILE)
        plan = plan_day(request)
        if options["json"]:
            self.stdout.write(json.dumps(plan_as_json(plan), indent=2, ensure_ascii=False))
        else:
            self.stdout.write(plan_as_text(plan), ending="")


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise WrongRoundFile([f"file: it cannot be read ({error.strerror})."]) from error
    except UnicodeDecodeError as error:
        raise WrongRoundFile(["file: it is not text in UTF-8."]) from error
