"""Price a calculator file from the command line; needs no database."""

import argparse
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser, DjangoHelpFormatter

from billing.quotes.pricing_file import price_file
from billing.quotes.reading import WrongFile

FORMAT = """\
The file is JSON. Money and rates are text ("95.00"), dates are text ("2026-03-02"), counts are whole numbers.

  currency    ISO 4217 code; its decimals are used (JPY none, KWD three)
  start, days the term: nothing outside it is planned
  services    "full" and "spot": minutes, price, and breaks [{"from": 6, "price": "85.00"}] (from 6 on all cost that)
  call_out    amount per stop (one date and part of the day); split "none" (each horse pays all), "horse" or "owner"
  hire        day, week, training, follow_up; delivery and deposit ("0" if left out)
  guideline   phases, tolerance_days (0), spot_needs_full_within (3): what the options are measured against
  tax         rate in percent, rounding "total" or "line", included true or false
  horses      each horse with its owner, in the order that decides who gets an odd cent
  others      stops already in the diary: date, owner, horses
  options     each with a name and, for every horse: by "visits" or "hire", phases, days_off (["SU", "2026-03-17"]),
              on_day_off "keep", "next" or "drop"; for a hire follow_ups, and the phases are the owner's own sessions
  budget      also search the schedule that covers most within this amount

A phase has days, and full_every (a full body on its first day and every so many days) or full_rule (an RFC 5545
RRULE by days, beginning at the phase's first day), and spots_per_day (0 to 2) on the days without a full body.
May be left out: breaks, split, hire, guideline, tax, others, days_off, on_day_off, follow_ups, budget.

Exit status 2 if the file is wrong; every error is then printed with its place.
"""


class PlainHelp(DjangoHelpFormatter, argparse.RawDescriptionHelpFormatter):
    """Help that keeps the lines of the format as they are."""


class Command(BaseCommand):
    help = "Price the options of a calculator file side by side."
    requires_system_checks: list[str] = []

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(prog_name, subcommand, epilog=FORMAT, formatter_class=PlainHelp, **kwargs)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE", help="the file to price, or - for standard input")
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            content = sys.stdin.buffer.read() if options["file"] == "-" else Path(options["file"]).read_bytes()
            answer = price_file(content, json=options["json"])
        except OSError as error:
            self._refuse([f"{options['file']}: {error.strerror}"])
        except WrongFile as error:
            self._refuse(error.errors)
        else:
            self.stdout.write(answer)

    def _refuse(self, errors: tuple[str, ...] | list[str]) -> None:
        for error in errors:
            self.stderr.write(error)
        sys.exit(2)
