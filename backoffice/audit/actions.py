from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from decimal import Decimal
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.db import models, transaction

from backoffice.access.models import User
from backoffice.audit.chain import entry_hash
from backoffice.audit.models import Entry, Head

P = ParamSpec("P")
R = TypeVar("R")


def action(change: Callable[P, R]) -> Callable[P, R]:
    """Decorator of every state change: one transaction, with the head of the trail locked before any other row.

    SQLite: `IMMEDIATE` already lets one writer in at a time. PostgreSQL: the head row is the one lock that all take
    first, so fifty at once wait for each other instead of deadlocking.
    """

    @wraps(change)
    def locked(*args: P.args, **kwargs: P.kwargs) -> R:
        is_outermost = _undoings.get() is None
        with _undoing_on_failure(), transaction.atomic():
            if is_outermost:
                lock_head()
            return change(*args, **kwargs)

    return locked


_undoings: ContextVar[list[Callable[[], object]] | None] = ContextVar("undoings", default=None)


def on_failure(undo: Callable[[], object]) -> None:
    """Have `undo` called should this action, or one around it, fail: for what no rollback takes back (a file)."""
    undoings = _undoings.get()
    if undoings is None:
        raise RuntimeError("on_failure is for use inside an action.")
    undoings.append(undo)


@contextmanager
def _undoing_on_failure() -> Iterator[None]:
    outer = _undoings.get()
    mine: list[Callable[[], object]] = []
    token = _undoings.set(mine)
    try:
        yield
    except BaseException:
        for undo in reversed(mine):
            undo()
        raise
    else:
        if outer is not None:
            outer.extend(mine)
    finally:
        _undoings.reset(token)


def lock_head() -> Head:
    head = Head.objects.select_for_update().filter(pk=1).first()
    if head is None:
        Head.objects.bulk_create([Head(pk=1)], ignore_conflicts=True)
        head = Head.objects.select_for_update().get(pk=1)
    return head


@action
def record(
    name: str,
    target: models.Model,
    *,
    at: datetime,
    by: User | None,
    via: str = "",
    changes: Mapping[str, object] | None = None,
) -> Entry:
    """Append one entry. `changes` holds ids, states, dates and amounts; text given by people stays out of the trail."""
    head = lock_head()
    facts: dict[str, Any] = {
        "number": head.number + 1,
        "at": at,
        "via": via,
        "action": name,
        "target": target._meta.label_lower,
        "target_pk": str(target.pk),
        "changes": {key: _plain(value) for key, value in (changes or {}).items()},
        "previous_hash": head.hash,
    }
    entry = Entry(**facts, by=by, hash=entry_hash(**facts, by=by.pk if by else None))
    entry.save(force_insert=True)
    head.number, head.hash = entry.number, entry.hash
    head.save(update_fields=["number", "hash"])
    return entry


def _plain(value: object) -> object:
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, models.Model):
        return value.pk
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, dict):
        return {str(key): _plain(part) for key, part in value.items()}
    return str(value)
