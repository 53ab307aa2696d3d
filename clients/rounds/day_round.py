"""One practitioner's day on the road: what is asked of it, and the plan that answers.

All times are whole seconds after local midnight, all lengths whole seconds. Place 0 is the base.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from types import MappingProxyType

BASE = 0


class Isolation(IntEnum):
    """How clean a stop is; no cleaner stop follows a less clean one on the same day."""

    CLEAN = 0
    EXPOSED = 1
    INFECTED = 2


class Priority(IntEnum):
    LOW = 0
    NORMAL = 1
    HIGH = 2


LOCKED_TIER = 3


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the day, both ends included. One that ends before it starts holds no moment."""

    start: int
    end: int

    def holds(self, moment: int) -> bool:
        return self.start <= moment <= self.end


@dataclass(frozen=True, slots=True)
class Lunch:
    """A break of `seconds` that starts inside `span`."""

    seconds: int
    span: Span


@dataclass(frozen=True, slots=True)
class Stop:
    """A barn with all its visits of the day that share one level of isolation.

    It starts inside one of its windows (none given: inside the day), or at exactly `locked`, which
    replaces the windows. `seconds` is set-up and all sessions.
    """

    key: str
    place: int
    seconds: int
    windows: tuple[Span, ...] = ()
    locked: int | None = None
    isolation: Isolation = Isolation.CLEAN
    priority: Priority = Priority.NORMAL

    @property
    def tier(self) -> int:
        """The rank in which stops are placed: a locked one before any other, whatever its priority."""
        return int(self.priority) if self.locked is None else LOCKED_TIER

    def start_windows(self, day: Span) -> tuple[Span, ...]:
        """The spans in which it may start, in order of time; empty ones are left out."""
        if self.locked is not None:
            return (Span(self.locked, self.locked),)
        usable = [window for window in self.windows or (day,) if window.start <= window.end]
        return tuple(sorted(usable, key=lambda window: window.start))


@dataclass(frozen=True, slots=True)
class DayRequest:
    """What one day is planned from: `drive[i][j]` is the drive in seconds from place i to place j.

    The base is left at or after `day.start` and reached again by `day.end`. Drives are taken as written:
    they need be neither symmetric nor the shortest way. Raises ValueError for a key used twice, a place
    outside the matrix or a length below zero, which are mistakes of the caller.
    """

    day: Span
    drive: tuple[tuple[int, ...], ...]
    stops: tuple[Stop, ...]
    lunch: Lunch | None = None

    def __post_init__(self) -> None:
        if len({stop.key for stop in self.stops}) != len(self.stops):
            raise ValueError("Two stops have the same key.")
        places = len(self.drive)
        if not places or any(len(row) != places for row in self.drive):
            raise ValueError("The matrix of drives is not square.")
        if not all(0 <= stop.place < places for stop in self.stops):
            raise ValueError("A stop lies at a place outside the matrix of drives.")
        lengths = [seconds for row in self.drive for seconds in row] + [stop.seconds for stop in self.stops]
        if min(lengths) < 0 or (self.lunch is not None and self.lunch.seconds < 0):
            raise ValueError("A drive, a stop or lunch lasts less than nothing.")


class LunchPlace(StrEnum):
    """Where lunch is taken: at the base, or at a placed stop's barn right before or after it."""

    BEFORE_LEAVING = "before_leaving"
    BEFORE_STOP = "before_stop"
    AFTER_STOP = "after_stop"
    AFTER_RETURN = "after_return"


ON_THE_ROAD = frozenset({LunchPlace.BEFORE_STOP, LunchPlace.AFTER_STOP})


@dataclass(frozen=True, slots=True)
class PlannedLunch:
    """`key` is the stop at whose barn it is taken, None at the base."""

    start: int
    end: int
    where: LunchPlace
    key: str | None = None


@dataclass(frozen=True, slots=True)
class PlannedStop:
    key: str
    arrive: int
    start: int
    end: int


class ReasonCode(StrEnum):
    WINDOW = "window"
    DAY_TOO_LONG = "day_too_long"
    ISOLATION = "isolation"
    LOCKED_ELSEWHERE = "locked_elsewhere"
    DISPLACES_SAME = "displaces_same"
    DISPLACES_HIGHER = "displaces_higher"
    NOBODY = "nobody"


@dataclass(frozen=True, slots=True)
class Reason:
    code: ReasonCode
    sentence: str


@dataclass(frozen=True, slots=True)
class Unplaced:
    key: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The day in order. `leave` and `back` are None when no stop is placed."""

    order: tuple[PlannedStop, ...]
    lunch: PlannedLunch | None
    leave: int | None
    back: int | None
    drive_seconds: int
    wait_seconds: int
    unplaced: tuple[Unplaced, ...] = ()
    notices: tuple[str, ...] = ()


def by_key(request: DayRequest) -> Mapping[str, Stop]:
    """The stops of a request by their keys."""
    return MappingProxyType({stop.key: stop for stop in request.stops})
