import csv
import sys
from argparse import ArgumentTypeError
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from backoffice.business.queries import the_business
from backoffice.ui.tables import plain_cell
from billing.journal.ledger import COLUMNS, beancount, rows
from billing.journal.queries import events_between

FORMATS = ("beancount", "csv", "xlsx")


def a_day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is no day. Write it like 2026-03-31.") from None


class Command(BaseCommand):
    help = "Print the books on standard output: every event, double entry, for your accountant's program."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--format", choices=FORMATS, default="beancount")
        parser.add_argument("--since", type=a_day, metavar="DAY", help="from this day on (csv and xlsx only)")
        parser.add_argument("--until", type=a_day, metavar="DAY", help="until this day")

    def handle(self, *args: Any, **options: Any) -> None:
        business, shape = the_business(), options["format"]
        if shape == "beancount" and options["since"]:
            self.stderr.write("Balances are counted from the first event: beancount takes no --since.")
            sys.exit(2)
        events = events_between(options["since"], options["until"], business.currency)
        cells = ([plain_cell(value) for value in row] for row in rows(events))
        if shape == "beancount":
            for line in beancount(events, title=business.name, currency=business.currency):
                self.stdout.write(line)
        elif shape == "csv":
            self._csv(cells)
        else:
            self._xlsx(cells)

    def _csv(self, found: Any) -> None:
        writer = csv.writer(self.stdout)
        writer.writerow(COLUMNS)
        writer.writerows(found)

    def _xlsx(self, found: Any) -> None:
        from tablib import Dataset

        table = Dataset(*found, headers=COLUMNS, title="Books")
        sys.stdout.buffer.write(table.export("xlsx"))
