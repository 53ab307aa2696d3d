import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from backoffice.upkeep.backup import write_backup
from backoffice.upkeep.keeping_safe import back_up


class Command(BaseCommand):
    help = (
        "Write the database and all files, as they are at this moment, into one file; people go on working. Under the"
        " passphrase of BACKUP_PASSPHRASE, where that is set. Without FILE: into the folder BACKUP_DIR."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, metavar="FILE")

    def handle(self, *args: Any, file: Path | None = None, **options: Any) -> None:
        now = timezone.now()
        if file is None:
            if not settings.BACKUP_DIR:
                raise CommandError("Name a FILE, or set BACKUP_DIR.")
            note = back_up(at=now)
            if not note.is_good:
                raise CommandError(note.words)
            self.stdout.write(f"{os.path.join(settings.BACKUP_DIR, note.name)}: {note.words}.")
            return
        held = write_backup(file, at=now, passphrase=settings.BACKUP_PASSPHRASE)
        self.stdout.write(f"{file}: {held.words}.")
