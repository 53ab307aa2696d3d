"""From phases to dates: which session falls on which day, days off settled, nothing past the term's end."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from zoneinfo import ZoneInfo

from clients.plans.holiday_calendars import PREFIX, holidays_in, read_calendar
from clients.plans.recurrence import WEEKDAYS, read_rule, rule_days

LONGEST_PHASE_DAYS = 3660
MOST_SPOTS_PER_DAY = 2
LONGEST_WAIT_DAYS = 366

WEEKDAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTH_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class Kind(StrEnum):
    """What a session is. The order is the order in which the sessions of one day are listed."""

    TRAINING = "training"
    FOLLOW_UP = "follow_up"
    FULL = "full"
    SPOT = "spot"
    COLLECTION = "collection"


KIND_WORDS = {
    Kind.TRAINING: "training visit",
    Kind.FOLLOW_UP: "follow-up visit",
    Kind.FULL: "full body",
    Kind.SPOT: "spot",
    Kind.COLLECTION: "collection of the machine",
}


class OnDayOff(StrEnum):
    """What happens to a session that falls on a day off."""

    KEEP = "keep"
    NEXT = "next"
    DROP = "drop"


@dataclass(frozen=True, slots=True)
class PlannedSession:
    """One session on one local date. Part 2 is a second drive on the same day: only a second spot is one."""

    on: date
    kind: Kind
    part: int = 1


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of a plan: full bodies every `full_every` days or by `full_rule`, spots on the days between.

    `full_rule` is an RFC 5545 RRULE whose DTSTART is the phase's first day. With neither there is no full body.
    Raises ValueError (a plain sentence) for a phase that makes no sense.
    """

    days: int
    full_every: int | None = None
    full_rule: str = ""
    spots_per_day: int = 0

    def __post_init__(self) -> None:
        if not 1 <= self.days <= LONGEST_PHASE_DAYS:
            raise ValueError(f"a phase lasts from 1 to {LONGEST_PHASE_DAYS} days")
        if self.full_every is not None and self.full_rule:
            raise ValueError("a phase has full_every or full_rule, not both")
        if self.full_every is not None and self.full_every < 1:
            raise ValueError("full_every is at least 1")
        if not 0 <= self.spots_per_day <= MOST_SPOTS_PER_DAY:
            raise ValueError(f"a day has from 0 to {MOST_SPOTS_PER_DAY} spots")
        if self.full_rule:
            read_rule(self.full_rule)

    def full_days(self, start: date) -> tuple[date, ...]:
        """The dates of the full bodies when the phase begins on `start`."""
        if self.full_rule:
            return rule_days(self.full_rule, start, self.days)
        if self.full_every is None:
            return ()
        first = start.toordinal()
        return tuple(map(date.fromordinal, range(first, first + self.days, self.full_every)))

    def sessions(self, start: date) -> Iterator[PlannedSession]:
        """The sessions of the phase in date order: a full body, or the spots of a day that has none."""
        full, spot = Kind.FULL, Kind.SPOT
        full_days = self.full_days(start)
        if not self.spots_per_day:
            for day in full_days:
                yield PlannedSession(day, full)
            return
        with_full = frozenset(full_days)
        first = start.toordinal()
        for day in map(date.fromordinal, range(first, first + self.days)):
            if day in with_full:
                yield PlannedSession(day, full)
                continue
            yield PlannedSession(day, spot)
            if self.spots_per_day == MOST_SPOTS_PER_DAY:
                yield PlannedSession(day, spot, 2)


@dataclass(frozen=True, slots=True)
class DaysOff:
    """Days without sessions: weekdays (Monday is 0), single dates, the holidays of calendars such as "US-KY"."""

    weekdays: frozenset[int] = frozenset()
    dates: frozenset[date] = frozenset()
    calendars: frozenset[str] = frozenset()

    @classmethod
    def of(cls, entries: Iterable[str]) -> "DaysOff":
        """From words such as "SU", "2026-03-17" and "holidays US-KY"; raises ValueError naming the first other one."""
        weekdays, dates, calendars = set(), set(), set()
        for entry in entries:
            if entry in WEEKDAYS:
                weekdays.add(WEEKDAYS.index(entry))
            elif entry.startswith(PREFIX):
                calendars.add(read_calendar(entry))
            else:
                dates.add(read_date(entry))
        return cls(frozenset(weekdays), frozenset(dates), frozenset(calendars))

    def within(self, start: date, days: int) -> frozenset[date]:
        """The days off among the `days` days from `start`."""
        first, end = start.toordinal(), start.toordinal() + days
        weekly = (
            date.fromordinal(ordinal)
            for weekday in self.weekdays
            for ordinal in range(first + (weekday - start.weekday()) % 7, end, 7)
        )
        single = (day for day in self.dates if first <= day.toordinal() < end)
        return frozenset((*weekly, *single, *_holidays(self.calendars, start, days)))

    def holiday(self, day: date) -> str:
        """The name of the day in one of the calendars, empty if it is no holiday."""
        names = (holidays_in(calendar, day.year).get(day, "") for calendar in sorted(self.calendars))
        return next(filter(None, names), "")


@lru_cache(maxsize=256)
def _holidays(calendars: frozenset[str], start: date, days: int) -> frozenset[date]:
    last = start + timedelta(days=days - 1)
    years = range(start.year, last.year + 1)
    found = (day for calendar in calendars for year in years for day in holidays_in(calendar, year))
    return frozenset(day for day in found if start <= day <= last)


class Outcome(StrEnum):
    """What became of a session that fell on a day off or met another one."""

    MOVED = "moved"
    ABSORBED = "absorbed"
    DROPPED = "dropped"
    AFTER_TERM = "after the term"


@dataclass(frozen=True, slots=True)
class Change:
    """One session that is not where its phase put it. `into` is the session that took its place, if any.

    `holiday` is the name of the day that it would have fallen on, if a calendar has one.
    """

    session: PlannedSession
    outcome: Outcome
    into: PlannedSession | None = None
    holiday: str = ""

    def __str__(self) -> str:
        what = f"{KIND_WORDS[self.session.kind]} of {say_date(self.session.on)}"
        what += f" ({self.holiday})" if self.holiday else ""
        if self.outcome is Outcome.DROPPED:
            return f"The {what} falls on a day off and is dropped."
        if self.into is None:
            return f"The {what} would fall after the term and is dropped."
        target = f"{KIND_WORDS[self.into.kind]} of {say_date(self.into.on)}"
        if self.outcome is Outcome.MOVED:
            return f"The {what} falls on a day off and moves to {say_date(self.into.on)}."
        return f"The {what} is absorbed by the {target}."


@dataclass(frozen=True, slots=True)
class Expansion:
    """The sessions of a schedule in date order, and every change that days off made."""

    sessions: tuple[PlannedSession, ...]
    changes: tuple[Change, ...] = ()

    @property
    def notices(self) -> tuple[str, ...]:
        """What was dropped or absorbed, in words; a plain move is not a loss and is left out."""
        return tuple(str(change) for change in self.changes if change.outcome is not Outcome.MOVED)


@dataclass(frozen=True, slots=True)
class Schedule:
    """Phases laid one after the other from a start date, with the days off to respect."""

    phases: tuple[Phase, ...]
    days_off: DaysOff = field(default_factory=DaysOff)
    on_day_off: OnDayOff = OnDayOff.KEEP

    @property
    def days(self) -> int:
        return sum(phase.days for phase in self.phases)

    def expand(self, start: date, days: int | None = None) -> Expansion:
        """The sessions within the term of `days` days (all phases, if not given)."""
        days = self.days if days is None else days
        return settle(lay(self.phases, start, days), self, start, days)


@lru_cache(maxsize=128)
def lay(phases: tuple[Phase, ...], start: date, days: int) -> tuple[PlannedSession, ...]:
    """Phases after each other from `start`, cut at the term's end: what falls outside is not planned."""
    end = start + timedelta(days=days)
    sessions: list[PlannedSession] = []
    first = start
    for phase in phases:
        if first >= end:
            break
        following = first + timedelta(days=phase.days)
        planned = phase.sessions(first)
        sessions.extend(planned if following <= end else (each for each in planned if each.on < end))
        first = following
    return tuple(sessions)


def settle(sessions: Sequence[PlannedSession], schedule: Schedule, start: date, days: int) -> Expansion:
    """Apply the days off of `schedule` to `sessions`: keep, move to the first open day, or drop.

    A moved session that meets another of the same horse makes one of two: a full body absorbs a spot, two of a kind
    in the same part of the day become one. A move past the term's end drops the session.
    """
    off = frozenset[date]()
    if schedule.on_day_off != OnDayOff.KEEP:
        off = schedule.days_off.within(start, days)
    moving = [session for session in sessions if session.on in off]
    if not moving:
        return Expansion(tuple(sessions))
    staying = [session for session in sessions if session.on not in off]
    if schedule.on_day_off == OnDayOff.DROP:
        dropped = Expansion(tuple(staying), tuple(Change(session, Outcome.DROPPED) for session in moving))
        return _with_holidays(dropped, schedule.days_off)
    moved = _moved(staying, moving, _next_open_days(off, start + timedelta(days=days)))
    return _with_holidays(moved, schedule.days_off)


def _with_holidays(expansion: Expansion, days_off: DaysOff) -> Expansion:
    """The changes with the names of the holidays that caused them."""
    if not days_off.calendars:
        return expansion
    named = tuple(replace(change, holiday=days_off.holiday(change.session.on)) for change in expansion.changes)
    return Expansion(expansion.sessions, named)


def _next_open_days(off: frozenset[date], end: date) -> dict[date, date]:
    """For each day off, the first later day before `end` that is not off; a day without one is missing."""
    following: dict[date, date] = {}
    for day in sorted(off, reverse=True):
        tomorrow = day + timedelta(days=1)
        if tomorrow in following:
            following[day] = following[tomorrow]
        elif tomorrow not in off and tomorrow < end:
            following[day] = tomorrow
    return following


def _moved(
    staying: Sequence[PlannedSession], moving: Sequence[PlannedSession], open_days: dict[date, date]
) -> Expansion:
    targets = {open_days[session.on] for session in moving if session.on in open_days}
    arrivals: dict[date, list[PlannedSession]] = {day: [] for day in targets}
    for session in staying:
        if session.on in targets:
            arrivals[session.on].append(session)
    changes: list[Change] = []
    for session in moving:
        day = open_days.get(session.on)
        if day is None:
            changes.append(Change(session, Outcome.AFTER_TERM))
        else:
            changes.extend(_meet(session, day, arrivals[day]))
    untouched = [session for session in staying if session.on not in targets]
    arrived = [session for there in arrivals.values() for session in there]
    return Expansion(tuple(sorted([*untouched, *arrived], key=in_order)), tuple(changes))


def _meet(session: PlannedSession, day: date, there: list[PlannedSession]) -> list[Change]:
    """Put `session` among those of `day` (changed in place) and say what became of whom."""
    arrived = PlannedSession(day, session.kind, session.part)
    for other in there:
        absorbs_spot = other.kind == Kind.FULL and session.kind == Kind.SPOT
        if absorbs_spot or (other.kind, other.part) == (session.kind, session.part):
            return [Change(session, Outcome.ABSORBED, into=other)]
    changes = [Change(session, Outcome.MOVED, into=arrived)]
    if session.kind == Kind.FULL:
        spots = [other for other in there if other.kind == Kind.SPOT]
        changes += [Change(spot, Outcome.ABSORBED, into=arrived) for spot in spots]
        there[:] = [other for other in there if other.kind != Kind.SPOT]
    there.append(arrived)
    return changes


KIND_ORDER = {kind: place for place, kind in enumerate(Kind)}


def in_order(session: PlannedSession) -> tuple[date, int, int]:
    """The key that lists sessions by date, then training, follow-up, full body, spot."""
    return session.on, KIND_ORDER[session.kind], session.part


def start_before_event(schedule: Schedule, event: date, days_before: int) -> date | None:
    """The start that puts the last full body `days_before` days before `event`.

    If no start does so exactly (weekdays, days off), the one whose last full body comes closest before that day. Among
    those, the start that keeps the most full bodies, then the latest. None if the schedule has no full body.
    """
    target = event - timedelta(days=days_before)
    schedule = replace(schedule, phases=tuple(replace(phase, spots_per_day=0) for phase in schedule.phases))
    best: tuple[date, int, date] | None = None
    for back in range(schedule.days + LONGEST_WAIT_DAYS):
        start = target - timedelta(days=back)
        if best is not None and best[0] > start + timedelta(days=schedule.days - 1):
            break
        full_days = _full_days(schedule, start)
        if full_days and full_days[-1] <= target:
            best = max(best or (full_days[-1], 0, start), (full_days[-1], len(full_days), start))
    return best[2] if best else None


def _full_days(schedule: Schedule, start: date) -> list[date]:
    return [session.on for session in schedule.expand(start).sessions if session.kind == Kind.FULL]


def moment(on: date, at: time, zone: ZoneInfo) -> datetime:
    """The UTC moment of a local time: 09:00 stays 09:00 across daylight saving.

    A time inside the spring gap uses the offset before the gap (RFC 5545 §3.3.5); one that comes twice is the first.
    """
    return datetime.combine(on, at, tzinfo=zone).replace(fold=0).astimezone(UTC)


def read_date(text: str) -> date:
    """A date written as 2026-03-17; raises ValueError for anything else."""
    if len(text) != 10:
        raise ValueError(f'"{text[:20]}" is not a date such as 2026-03-17')
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f'"{text}" is not a date such as 2026-03-17') from None


def say_date(day: date) -> str:
    """A date in words, such as "Thu 12 Mar 2026"."""
    return f"{WEEKDAY_NAMES[day.weekday()]} {day.day} {MONTH_NAMES[day.month - 1]} {day.year}"
