"""An option's schedules as strips of days, with what the owner does drawn differently from what we do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from billing.quotes.comparison import HorseMeasures, OptionMeasures
from clients.plans.cadence import KIND_WORDS, Kind, PlannedSession, say_date
from clients.plans.strip import StripDay


@dataclass(frozen=True, slots=True)
class Strip:
    """The days of one horse, or of several with the same schedule."""

    horses: tuple[str, ...]
    days: tuple[StripDay, ...]


def strips_of(option: OptionMeasures, start: date, days: int) -> tuple[Strip, ...]:
    """One strip per different schedule, in the stated order of the horses; a training or follow-up is a `visit`."""
    same: dict[tuple[StripDay, ...], list[str]] = {}
    for horse in option.horses:
        same.setdefault(_days_of(horse, start, days), []).append(horse.name)
    return tuple(Strip(tuple(names), marks) for marks, names in same.items())


def _days_of(horse: HorseMeasures, start: date, days: int) -> tuple[StripDay, ...]:
    by_day: dict[date, list[tuple[PlannedSession, str]]] = {}
    for session, by in horse.days.in_order():
        by_day.setdefault(session.on, []).append((session, by))
    return tuple(_day(on, by_day.get(on, ())) for on in (start + timedelta(days=number) for number in range(days)))


def _day(on: date, sessions: Sequence[tuple[PlannedSession, str]]) -> StripDay:
    kinds = [session.kind for session, _ in sessions]
    if not kinds:
        return StripDay("none", "us", f"{say_date(on)}: no session")
    if Kind.FULL in kinds:
        kind = "full"
    elif Kind.SPOT in kinds:
        kind = "two" if kinds.count(Kind.SPOT) > 1 else "spot"
    else:
        kind = "visit"
    by = "us" if any(who == "us" for _, who in sessions) else "owner"
    words = [KIND_WORDS[session.kind] + (" by the owner" if who == "owner" else "") for session, who in sessions]
    return StripDay(kind, by, f"{say_date(on)}: {' and '.join(words)}")
