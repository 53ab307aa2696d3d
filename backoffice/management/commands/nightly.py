from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from billing.quotes.actions import lapse_quotes


class Command(BaseCommand):
    help = (
        "Mark what time alone has changed: quotes past their last day lapse. To be run once a night; twice is harmless."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        lapsed = lapse_quotes(at=timezone.now())
        self.stdout.write(f"{lapsed} quote{'' if lapsed == 1 else 's'} lapsed.")
