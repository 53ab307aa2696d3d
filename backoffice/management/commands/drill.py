from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from backoffice.refusal import Refused
from backoffice.upkeep.keeping_safe import drill


class Command(BaseCommand):
    help = "Restore the newest backup of BACKUP_DIR, or FILE, on trial into a place that is thrown away, and verify it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, metavar="FILE")

    def handle(self, *args: Any, file: Path | None = None, **options: Any) -> None:
        try:
            note = drill(at=timezone.now(), path=file)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        if not note.is_good:
            raise CommandError(f"{note.name}: {note.words}")
        self.stdout.write(f"{note.name}: {note.words}")
