from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from backoffice.erasing.again import replay
from backoffice.refusal import Refused
from backoffice.upkeep.backup import restore_backup
from backoffice.upkeep.bringing_back import bring_back, is_taken_along


class Command(BaseCommand):
    help = (
        "Put a backup, or the ZIP of everything taken along, into this place, which must be migrated and empty;"
        " a passphrase comes from BACKUP_PASSPHRASE."
        " Erasures on file that are younger than the backup are carried out again. Run verify after it."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            if is_taken_along(file):
                held = bring_back(file, at=timezone.now())
                self.stdout.write("Nobody has a password here yet: manage.py changepassword NAME sets one.")
            else:
                held = restore_backup(file, passphrase=settings.BACKUP_PASSPHRASE)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"Restored {held.words}, as they were on {held.made_at:%Y-%m-%d %H:%M} UTC.")
        for line in replay():
            self.stdout.write(line)
