"""A schedule drawn as one mark a day: full body, spot, two spots or nothing."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from clients.plans.cadence import KIND_WORDS, Kind, PlannedSession, say_date


@dataclass(frozen=True, slots=True)
class StripDay:
    """One day: `kind` is full, spot, two or none; `by` is us or owner; `label` says it in words."""

    kind: str
    by: str
    label: str


def strip_of(sessions: Iterable[PlannedSession], start: date, days: int, *, by: str = "us") -> list[StripDay]:
    """The `days` days from `start`, in order; a full body outranks a spot of the same day."""
    on_day: dict[date, list[Kind]] = {}
    for session in sessions:
        on_day.setdefault(session.on, []).append(session.kind)
    dates = [start + timedelta(days=offset) for offset in range(days)]
    return [StripDay(_mark(on_day.get(day, [])), by, _label(day, on_day.get(day, []))) for day in dates]


def _mark(kinds: list[Kind]) -> str:
    if Kind.FULL in kinds:
        return "full"
    spots = kinds.count(Kind.SPOT)
    if not spots:
        return "none"
    return "spot" if spots == 1 else "two"


def _label(day: date, kinds: list[Kind]) -> str:
    words = " and ".join(KIND_WORDS[kind] for kind in kinds) if kinds else "no session"
    return f"{say_date(day)}: {words}"
