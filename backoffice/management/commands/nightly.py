from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from billing.quotes.actions import lapse_quotes
from clients.miles.actions import log_driven_days
from clients.paperwork.renewing import draft_renewals


class Command(BaseCommand):
    help = (
        "Do what time alone asks for: quotes past their last day lapse, forms that end soon get a new one to sign,"
        " and driven days go into the mileage log."
        " To be run once a night; twice is harmless."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        lapsed, renewals = lapse_quotes(at=now), len(draft_renewals(at=now))
        driven = len(log_driven_days(at=now))
        self.stdout.write(f"{lapsed} quote{'' if lapsed == 1 else 's'} lapsed.")
        self.stdout.write(f"{renewals} form{'' if renewals == 1 else 's'} made for what ends soon.")
        self.stdout.write(f"{driven} driven day{'' if driven == 1 else 's'} logged.")
