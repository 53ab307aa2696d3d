import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from backoffice.refusal import Refused
from billing.einvoice.syntax import Syntax, e_invoice
from billing.invoices.queries import frozen_by_name


class Command(BaseCommand):
    help = "Print an issued invoice or credit note as an e-invoice (EN 16931) on standard output."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("number", help="as printed, such as 2026-0017, or 2026-C0003 for a credit note")
        parser.add_argument("--format", choices=[each.value for each in Syntax], default=Syntax.UBL.value)

    def handle(self, *args: Any, **options: Any) -> None:
        paper = frozen_by_name(options["number"])
        if paper is None:
            self.stderr.write(f"No invoice or credit note {options['number']} was issued.")
            sys.exit(1)
        try:
            self.stdout.write(e_invoice(paper, Syntax(options["format"])).decode())
        except Refused as refused:
            self.stderr.write(str(refused))
            sys.exit(1)
