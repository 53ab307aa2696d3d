from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from backoffice.erasing.again import replay
from backoffice.refusal import Refused
from backoffice.upkeep.backup import restore_backup


class Command(BaseCommand):
    help = (
        "Put a backup into this place, which must be migrated and empty; a passphrase comes from BACKUP_PASSPHRASE."
        " Erasures on file that are younger than the backup are carried out again. Run verify after it."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            held = restore_backup(file, passphrase=settings.BACKUP_PASSPHRASE)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"Restored {held.words}, as they were on {held.made_at:%Y-%m-%d %H:%M} UTC.")
        for line in replay():
            self.stdout.write(line)
