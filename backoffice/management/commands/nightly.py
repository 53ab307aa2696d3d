from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from billing.quotes.actions import lapse_quotes
from clients.paperwork.renewing import draft_renewals


class Command(BaseCommand):
    help = (
        "Do what time alone asks for: quotes past their last day lapse, and forms that end soon get a new one to sign."
        " To be run once a night; twice is harmless."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        lapsed, renewals = lapse_quotes(at=now), len(draft_renewals(at=now))
        self.stdout.write(f"{lapsed} quote{'' if lapsed == 1 else 's'} lapsed.")
        self.stdout.write(f"{renewals} form{'' if renewals == 1 else 's'} made for what ends soon.")
