import signal
import time
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone

from backoffice.later.actions import do_job, take_job

PAUSE_S = 1


class Command(BaseCommand):
    help = (
        "Do long work (issuing many invoices, planning, mail, reports) in a process of its own, until it is stopped."
        " Set WORKER=1 for the web processes, so that they leave it to this one. Several may run on PostgreSQL."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        self.is_stopped = False
        for each in (signal.SIGTERM, signal.SIGINT):
            signal.signal(each, self._stop)
        self.stdout.write("Waiting for work.")
        while not self.is_stopped:
            close_old_connections()
            job = take_job(timezone.now())
            if job is None:
                time.sleep(PAUSE_S)
            else:
                self.stdout.write(f"{job}: {'done' if do_job(job) else 'failed'}.")

    def _stop(self, *args: object) -> None:
        """What it is at is ended first."""
        self.is_stopped = True
