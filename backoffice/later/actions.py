"""Long work beside the request: started once its transaction is through, in a thread of the serving process, or left
to a worker of its own (`manage.py work`) where `settings.WORKER` says that there is one."""

import logging
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.conf import settings
from django.db import connection, connections, transaction
from django.utils import timezone
from django.utils.module_loading import import_string

from backoffice.later.models import Job

logger = logging.getLogger(__name__)
CUT_OFF = timedelta(hours=1)  # a worker that took a job and ended: another takes it up


def later(work: Callable[..., object], *told: Any) -> None:
    """Do `work(*told)` after this transaction. Where `settings.WORK_AT_ONCE` is set (tests, the demo's build) at once.

    `work` is a function of a module, `told` are keys and plain values: a worker finds both in the database. A thread
    ends with its process: work that must be seen to end keeps a row that says how far it is.
    """
    if settings.WORK_AT_ONCE:
        work(*told)
    elif settings.WORKER:
        Job.objects.create(work=f"{work.__module__}.{work.__qualname__}", told=list(told), made_at=timezone.now())
    else:
        transaction.on_commit(partial(_start, partial(work, *told)))


def _start(work: Callable[[], object]) -> None:
    threading.Thread(target=partial(_work_and_close, work), daemon=True).start()


def _work_and_close(work: Callable[[], object]) -> None:
    try:
        work()
    finally:
        connections.close_all()


def take_job(at: datetime) -> Job | None:
    """The oldest that nobody is at, now taken by this worker; several workers never take the same."""
    with transaction.atomic():
        waiting = Job.objects.select_for_update(skip_locked=connection.features.has_select_for_update_skip_locked)
        free = waiting.filter(trouble="").exclude(taken_at__gte=at - CUT_OFF).first()
        if free is not None:
            free.taken_at = at
            free.save(update_fields=["taken_at"])
        return free


def do_job(job: Job) -> bool:
    """Whether it was done. What fails is in the log and stays, with its cause, until somebody has looked."""
    try:
        import_string(job.work)(*job.told)
    except Exception as trouble:
        logger.exception("job %s failed", job.pk)
        Job.objects.filter(pk=job.pk).update(trouble=f"{type(trouble).__name__}: {trouble}"[:300])
        return False
    job.delete()
    return True
