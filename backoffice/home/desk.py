"""What needs attention about the office itself."""

from datetime import date, timedelta

from django.conf import settings
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from backoffice.business.queries import local_date
from backoffice.home.blocks import Block, Row
from backoffice.later.models import Job
from backoffice.letters.models import Letter
from backoffice.letters.queries import waiting_letters
from backoffice.upkeep.models import BackupNote

LATE = timedelta(days=2)
SOON = timedelta(minutes=10)
NO_WORKER = "No worker takes it up: is `manage.py work` running?"


def backups(on: date) -> Block:
    """By setting there is one a night: one that failed, or is missing, and a trial that found something."""
    rows = _rows(on) if settings.BACKUP_DIR else ()
    return Block("backups", "Backups", tuple(rows), is_pressing=True, all_href=reverse("backoffice:backups"))


def jobs(on: date) -> Block:
    """Long work that a worker failed at, or that no worker takes up."""
    found = Job.objects.all() if settings.WORKER else Job.objects.none()
    late = found.filter(~Q(trouble="") | Q(taken_at=None, made_at__lt=timezone.now() - SOON))
    rows = tuple(
        Row(str(job).capitalize(), reverse("backoffice:backups"), job.trouble or NO_WORKER, word="Waits", tone="hold")
        for job in late
    )
    return Block("jobs", "Long work", rows, is_pressing=True)


def letters(on: date) -> Block:
    """Letters that have not gone: no mail server, or one that did not take them."""
    # an invitation is for whoever sent it, who saw its link then
    rows = tuple(_waiting(letter) for letter in waiting_letters().exclude(kind=Letter.Kind.INVITATION))
    return Block("letters", "Letters that wait", rows, all_href=f"{reverse('backoffice:letters')}?state=waiting")


def _waiting(letter: Letter) -> Row:
    sentence = letter.trouble or ("" if settings.MAIL_GOES else "No mail server is set.")
    tone = "hold" if letter.trouble else "ask"
    day = local_date(letter.made_at)
    return Row(str(letter), letter.get_absolute_url(), sentence, word="Waits", tone=tone, day=day)


def _rows(on: date) -> list[Row]:
    page, found = reverse("backoffice:backups"), []
    newest = {note.kind: note for note in BackupNote.objects.order_by("at", "pk")}
    made = newest.get(BackupNote.Kind.BACKUP)
    if made is None or on - local_date(made.at) >= LATE:
        since = f"The last is of {local_date(made.at):%-d %b %Y}." if made else "There was none yet."
        found.append(Row("No backup tonight", page, since, word="Late", tone="hold"))
    found += [
        Row(note.get_kind_display(), page, note.words, word="Failed", tone="hold", day=local_date(note.at))
        for note in newest.values()
        if not note.is_good
    ]
    return found
