import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from backoffice.erasing.again import replay
from backoffice.erasing.traces import traces_of


class Command(BaseCommand):
    help = (
        "After a restore: carry out again the erasures on file. Or list where a name still stands, and by which rule."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--replay", action="store_true", help="erase again whom a restored backup brought back")
        what.add_argument("--traces", metavar="NAME", help="list where the name stands; status 1 if one has no rule")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["replay"]:
            lines = list(replay())
            for line in lines:
                self.stdout.write(line)
            self.stdout.write(f"{len(lines)} replayed." if lines else "Nothing to replay.")
            return
        found = list(traces_of(options["traces"]))
        for trace in found:
            self.stdout.write(str(trace))
        self.stdout.write(f"{len(found)} places.")
        if any(not trace.rule for trace in found):
            sys.exit(1)
