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
  call_out    one amount per stop (one date and part of the day), in one of three ways:
              amount; bands [{"to": "10", "amount": "20.00"}, {"amount": "60.00"}] and distance; or free, per_unit and
              distance. minimum: at least that. split "none" (each horse pays all), "horse" or "owner"
  hire        day, week, training, follow_up; delivery and deposit ("0" if left out); collection (none if left out:
              a visit on the last day)
  packages    name, price, sessions {"full": 10}, days from the start that it holds (no end if left out)
  monthly     name, price a month, sessions {"full": 2} in it, beyond {"full": "85.00"} (list price if left out)
  guideline   phases, tolerance_days (0), spot_needs_full_within (3): what the options are measured against
  tax         rate in percent, rounding "total" or "line", included true or false
  horses      each horse with its owner, in the order that decides who gets an odd cent
  others      stops already in the diary: date, owner, horses
  options     each with a name and, for every horse: by "visits" or "hire", phases, on_day_off "keep", "next" or
              "drop", days_off (["SU", "2026-03-17", "holidays US-KY"]), shift (days its start is moved).
              Visits may have monthly (the name of a plan). A hire has follow_ups, and its phases are the owner's own
              sessions; with "A" shares the machine of horse A.
              An option may have packages {"One": ["ten"]} (what each owner buys) and
              discount {"percent": "10", "reason": "..."} (or amount)
  booking_deposit  percent or amount: paid when accepted, deducted from the payments that follow
  budget      also search the schedule that covers most within this amount, or within {"amount": "900"} and its limits:
              visits_per_week, owner_minutes_per_day, days_off, on_day_off

A phase has days, and full_every (a full body on its first day and every so many days) or full_rule (an RFC 5545
RRULE by days, beginning at the phase's first day), and spots_per_day (0 to 2) on the days without a full body.
Only currency, start, days, services, call_out, horses and options are needed.

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
