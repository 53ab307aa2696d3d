"""An option's schedules as strips of days, with what the owner does drawn differently from what we do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from billing.quotes.comparison import HorseMeasures, OptionMeasures
from clients.plans.cadence import KIND_WORDS, Kind, PlannedSession, say_date
from clients.plans.strip import StripDay

LONGEST_STRIP = 112


@dataclass(frozen=True, slots=True)
class Strip:
    """The days of one horse, or of several with the same schedule."""

    horses: tuple[str, ...]
    days: tuple[StripDay, ...]


def strips_of(option: OptionMeasures, start: date, days: int) -> tuple[Strip, ...]:
    """One strip per different schedule, in the stated order of the horses; a training or follow-up is a `visit`.

    At most `LONGEST_STRIP` days are drawn.
    """
    days = min(days, LONGEST_STRIP)
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
    if not sessions:
        return StripDay("none", "us", f"{say_date(on)}: no session")
    words = [KIND_WORDS[session.kind] + (" by the owner" if who == "owner" else "") for session, who in sessions]
    given = [(session.kind, who) for session, who in sessions if session.kind in (Kind.FULL, Kind.SPOT)]
    by = given[0][1] if given else "us"
    return StripDay(_mark(given, len(given) < len(sessions)), by, f"{say_date(on)}: {' and '.join(words)}")


def _mark(given: Sequence[tuple[Kind, str]], attended: bool) -> str:
    """Full, spot or two; with `attended` beside it where a training or follow-up meets the owner's own session."""
    if not given:
        return "visit"
    kinds = [kind for kind, _ in given]
    kind = "full" if Kind.FULL in kinds else "two" if len(kinds) > 1 else "spot"
    return f"{kind} attended" if attended else kind
