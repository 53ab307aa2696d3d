"""Backups by setting: one a night, the older ones let go, and a trial restore of the newest once a week."""

import os
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from backoffice.upkeep.backup import backups_in, name_of, write_backup
from backoffice.upkeep.models import BackupNote

DRILL_EVERY = timedelta(days=7)
LONGEST = 3600  # seconds
STEPS = (("migrate", "--verbosity", "0"), ("restore",), ("verify",))


def back_up(*, at: datetime) -> BackupNote:
    """Into the folder of the settings; says what came of it, and lets go of what is more than the number to keep."""
    folder, passphrase = Path(settings.BACKUP_DIR), settings.BACKUP_PASSPHRASE
    path = folder / name_of(at, passphrase)
    for cut_off in folder.glob(".backup-*"):
        cut_off.unlink()
    try:
        held = write_backup(path, at=at, passphrase=passphrase)
    except OSError as wrong:
        return _note(BackupNote.Kind.BACKUP, at, path.name, False, f"Not made: {wrong.strerror}.")
    for old in backups_in(folder)[settings.BACKUP_KEEP :]:
        old.unlink()
    return _note(BackupNote.Kind.BACKUP, at, path.name, True, held.words)


def is_drill_due(at: datetime) -> bool:
    last = BackupNote.objects.filter(kind=BackupNote.Kind.DRILL).first()
    return last is None or at - last.at >= DRILL_EVERY


def drill(*, at: datetime, path: Path | None = None) -> BackupNote:
    """Restore the newest backup, or `path`, into a place that is thrown away after, and have it verified there."""
    found = [path] if path else backups_in(Path(settings.BACKUP_DIR)) if settings.BACKUP_DIR else []
    if not found:
        raise Refused("There is no backup to try.")
    with tempfile.TemporaryDirectory(prefix="drill-") as place:
        mine = {"DATABASE_URL": f"sqlite:///{place}/drill.sqlite3", "PRIVATE_ROOT": f"{place}/private", "S3_BUCKET": ""}
        there = {**os.environ, **mine}
        there["BACKUP_PASSPHRASE"] = settings.BACKUP_PASSPHRASE
        for step in STEPS:
            told = [*step, str(found[0].resolve())] if step == ("restore",) else list(step)
            done = subprocess.run(  # noqa: S603  (our own command, no shell)
                [sys.executable, "manage.py", *told],
                cwd=settings.BASE_DIR,
                env=there,
                capture_output=True,
                text=True,
                timeout=LONGEST,
                check=False,
            )
            if done.returncode:
                words = f"{step[0]} failed: {_why(done.stdout + done.stderr) or done.returncode}"
                return _note(BackupNote.Kind.DRILL, at, found[0].name, False, words)
    return _note(BackupNote.Kind.DRILL, at, found[0].name, True, "Restored and verified: nothing wrong.")


@audit.action
def note_taken(*, at: datetime, by: User) -> None:
    """Somebody took all records along."""
    audit.record("everything taken along", by, at=at, by=by, changes={})


def _why(said: str) -> str:
    """The first fault that was found, or what was said last."""
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    faults = [line.removeprefix("- ") for line in lines if line.startswith("- ")]
    return next(iter([*faults, *reversed(lines)]), "")


def _note(kind: BackupNote.Kind, at: datetime, name: str, is_good: bool, words: str) -> BackupNote:
    return BackupNote.objects.create(kind=kind, at=at, name=name[:120], is_good=is_good, words=words[:300])
