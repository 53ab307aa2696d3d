"""Some weeks as they are planned: what is due, who works when, and the plan that answers.

Days are numbers from 0, times whole seconds after local midnight, drives whole seconds, place 0 the base.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from clients.rounds.day_round import Isolation, Lunch, Span
from clients.rounds.loop import length_of, shortest_loop


@dataclass(frozen=True, slots=True)
class Due:
    """A visit that is due: where, how long, on which days it may stand.

    `around` is the day of its cadence; `days` are those within the tolerance, one alone where the owner knows the day
    already (`is_fixed`). `stands_on` is its day in the diary, `not_before` its earliest start (the second part of a day
    is after lunch), `locked` the promised one. `persons` may do it; empty: anybody.
    """

    key: str
    horse: str
    place: int
    seconds: int
    around: int
    days: tuple[int, ...]
    stands_on: int
    is_fixed: bool = False
    locked: int | None = None
    not_before: int = 0
    isolation: Isolation = Isolation.CLEAN
    persons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """One working day of one person."""

    day: int
    person: str
    span: Span


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """`windows[place][day]` are the spans in which work may start there; a day that is missing is closed, a place that
    is missing is open whenever we are. `area_days` holds (place, day). Raises ValueError for a key used twice, a place
    outside the matrix or a day twice for one person, which are mistakes of the caller."""

    drive: tuple[tuple[int, ...], ...]
    dues: tuple[Due, ...]
    shifts: tuple[Shift, ...]
    setup_seconds: int = 0
    lunch: Lunch | None = None
    windows: Mapping[int, Mapping[int, tuple[Span, ...]]] = field(default_factory=dict)
    area_days: frozenset[tuple[int, int]] = frozenset()

    def __post_init__(self) -> None:
        if len({due.key for due in self.dues}) != len(self.dues):
            raise ValueError("Two due visits have the same key.")
        if len({(shift.day, shift.person) for shift in self.shifts}) != len(self.shifts):
            raise ValueError("A person has one working day a day.")
        if not all(0 < due.place < len(self.drive) for due in self.dues):
            raise ValueError("A due visit lies at a place outside the matrix of drives.")

    def starts(self, due: Due, shift: Shift) -> tuple[Span, ...]:
        """The spans of that day in which the visit may begin; none where the barn is closed or another must come."""
        if shift.day not in due.days or (due.persons and shift.person not in due.persons):
            return ()
        if due.locked is not None:
            return (Span(due.locked, due.locked),)
        place = self.windows.get(due.place)
        spans = (shift.span,) if place is None else place.get(shift.day, ())
        spans = tuple(Span(max(span.start, due.not_before), span.end) for span in spans)
        return tuple(span for span in spans if span.start <= span.end)


class Reason(StrEnum):
    """Why a due visit has no place in the plan."""

    NO_HOURS = "no_hours"
    CLOSED = "closed"
    NO_ROOM = "no_room"

    @property
    def sentence(self) -> str:
        return {
            Reason.NO_HOURS: "Nobody works on any of the days that its plan tolerates.",
            Reason.CLOSED: "The barn takes nobody on any of the days that its plan tolerates.",
            Reason.NO_ROOM: "The days that its plan tolerates are full.",
        }[self]


@dataclass(frozen=True, slots=True)
class Placed:
    day: int
    person: str


@dataclass(frozen=True, slots=True)
class FortnightPlan:
    """Key → where each visit goes; those without a place with the reason; the drive of all days before and after.

    What has no place stays where it stands, and is driven to there in both sums.
    """

    placed: Mapping[str, Placed]
    unplaced: Mapping[str, Reason]
    drive_before: int
    drive_after: int
    rounds: int

    @property
    def seconds_saved(self) -> int:
        return self.drive_before - self.drive_after


def standing_now(request: PlanRequest) -> dict[str, Placed]:
    """Where the visits stand in the diary, each with its own person, or with the first who works that day."""
    people = {shift.day: shift.person for shift in reversed(request.shifts)}
    return {
        due.key: Placed(due.stands_on, due.persons[0] if due.persons else people.get(due.stands_on, ""))
        for due in request.dues
    }


def drive_of(request: PlanRequest, placed: Mapping[str, Placed]) -> int:
    """Seconds of drive of all days, each by the shortest loop of its places; windows and lunch aside."""
    return length_by(request, request.drive, placed)


def length_by(request: PlanRequest, matrix: Sequence[Sequence[int]], placed: Mapping[str, Placed]) -> int:
    """All days by the loops with the least seconds, measured by another matrix, such as of metres."""
    loops = (shortest_loop(request.drive, at) for at in places_of(request, placed).values())
    return sum(length_of(matrix, loop) for loop in loops)


def places_of(request: PlanRequest, placed: Mapping[str, Placed]) -> dict[Placed, set[int]]:
    places: dict[Placed, set[int]] = defaultdict(set)
    for due in request.dues:
        if due.key in placed:
            places[placed[due.key]].add(due.place)
    return places
