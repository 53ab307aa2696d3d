import sys
from typing import Any

from django.core.management.base import BaseCommand

from backoffice.upkeep.verification import look


class Command(BaseCommand):
    help = "Look for anything lost, changed or out of balance. Exit status 1 if something is."

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = 0
        for finding in look():
            self.stdout.write(f"{'WRONG' if finding.faults else 'ok   '}  {finding.check.name}: {finding.looked_at}")
            for fault in finding.faults:
                self.stdout.write(f"       - {fault}")
            wrong += len(finding.faults)
        if wrong:
            self.stdout.write(f"{wrong} wrong.")
            sys.exit(1)
        self.stdout.write("Nothing wrong.")
