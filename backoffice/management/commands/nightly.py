from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from backoffice.business.queries import local_date
from backoffice.documents.sweeping import sweep
from backoffice.letters.actions import deliver_waiting, forget_letters
from backoffice.team.sessions import forget_ended
from backoffice.upkeep.keeping_safe import back_up, drill, is_drill_due
from backoffice.upkeep.models import BackupNote
from billing.invoices.looking_through import look_through
from billing.quotes.actions import lapse_quotes
from billing.reminders.actions import draft_reminders, mail_by_rule
from clients.miles.actions import log_driven_days
from clients.paperwork.renewing import draft_renewals


def backups(at: datetime) -> Iterator[BackupNote]:
    """By setting: one a night, and the newest on trial once a week."""
    if settings.BACKUP_DIR:
        made = back_up(at=at)
        yield made
        if made.is_good and is_drill_due(at):
            yield drill(at=at)


class Command(BaseCommand):
    help = (
        "Do what time alone asks for: quotes past their last day lapse, forms that end soon get a new one to sign,"
        " driven days go into the mileage log, late invoices get their letter, and a backup is made"
        " where BACKUP_DIR is set."
        " To be run once a night; twice is harmless."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        forget_ended(now)
        lapsed, renewals = lapse_quotes(at=now), len(draft_renewals(at=now))
        driven = len(log_driven_days(at=now))
        letters = draft_reminders(on=local_date(now), at=now)
        mailed = mail_by_rule(letters, at=now)
        late = deliver_waiting()
        look_through(at=now)
        forget_letters(now)
        self.stdout.write(f"{lapsed} quote{'' if lapsed == 1 else 's'} lapsed.")
        self.stdout.write(f"{renewals} form{'' if renewals == 1 else 's'} made for what ends soon.")
        swept = sweep(at=now)
        self.stdout.write(f"{swept} file{'' if swept == 1 else 's'} of cut-off changes removed.")
        self.stdout.write(f"{len(letters)} reminder{'' if len(letters) == 1 else 's'} drafted, {mailed} mailed.")
        self.stdout.write(f"{late} letter{'' if late == 1 else 's'} that waited went.")
        for note in backups(now):
            self.stdout.write(str(note))
        self.stdout.write(f"{driven} driven day{'' if driven == 1 else 's'} logged.")
