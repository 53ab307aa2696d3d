"""Long work beside the request: started once its transaction is through, in a thread of the serving process."""

import threading
from collections.abc import Callable
from functools import partial

from django.conf import settings
from django.db import connections, transaction


def later(work: Callable[[], object]) -> None:
    """Do `work` after this transaction. Where `settings.WORK_AT_ONCE` is set (tests, the demo's build) at once.

    A thread ends with its process: work that must be seen to end keeps a row that says how far it is.
    """
    if settings.WORK_AT_ONCE:
        work()
        return
    transaction.on_commit(partial(_start, work))


def _start(work: Callable[[], object]) -> None:
    threading.Thread(target=partial(_work_and_close, work), daemon=True).start()


def _work_and_close(work: Callable[[], object]) -> None:
    try:
        work()
    finally:
        connections.close_all()
