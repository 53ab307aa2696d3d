"""How near a schedule comes to the practitioner's own guideline, in exact minutes. It says nothing about benefit."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from clients.plans.cadence import Kind, Phase, PlannedSession, lay


@dataclass(frozen=True, slots=True)
class Guideline:
    """The practitioner's rule of thumb: phases, how far a full body may stray, how long a full body carries spots."""

    phases: tuple[Phase, ...]
    tolerance_days: int = 0
    spot_needs_full_within: int = 3

    def sessions(self, start: date, days: int) -> tuple[PlannedSession, ...]:
        """The guideline's sessions in the term: it has no days off and is not repeated."""
        return lay(self.phases, start, days)


@dataclass(frozen=True, slots=True)
class Coverage:
    """Minutes credited of the minutes planned by the guideline, with the sessions met of those planned."""

    credited: int
    possible: int
    full_met: int
    full_planned: int
    spots_met: int
    spots_planned: int
    uncounted: tuple[date, ...] = ()

    def __add__(self, other: "Coverage") -> "Coverage":
        return Coverage(
            self.credited + other.credited,
            self.possible + other.possible,
            self.full_met + other.full_met,
            self.full_planned + other.full_planned,
            self.spots_met + other.spots_met,
            self.spots_planned + other.spots_planned,
            self.uncounted + other.uncounted,
        )

    @property
    def covered(self) -> Fraction | None:
        """The exact part of the guideline's minutes, from 0 to 1; None if the guideline plans no minutes."""
        return Fraction(self.credited, self.possible) if self.possible else None

    @property
    def percent(self) -> int | None:
        """Whole percent, rounded down."""
        return self.credited * 100 // self.possible if self.possible else None

    @property
    def full_bodies(self) -> str:
        return f"{self.full_met} of {self.full_planned}"

    @property
    def spots(self) -> str:
        return f"{self.spots_met} of {self.spots_planned}"


def cover(
    guideline: Guideline,
    planned: Sequence[PlannedSession],
    sessions: Iterable[PlannedSession],
    minutes: Mapping[Kind, int],
) -> Coverage:
    """What `sessions` (by anybody, in any order) cover of `planned`, the guideline's sessions in the same term.

    A spot without a full body on its day or in the `spot_needs_full_within` days before is not counted. Full bodies
    match, in date order, the earliest unmatched one of the guideline at most `tolerance_days` away; those left over
    and the counted spots match a guideline spot of the same day. The smaller of the two sessions' minutes is credited.
    """
    given = tuple(sessions)
    given_full = sorted(days_of(Kind.FULL, given))
    given_spots = sorted(days_of(Kind.SPOT, given))
    counted, uncounted = part_spots(given_spots, given_full, guideline.spot_needs_full_within)
    planned_full = days_of(Kind.FULL, planned)
    left_over = _left_over(given_full, planned_full, guideline.tolerance_days)
    open_spots = Counter(days_of(Kind.SPOT, planned))
    spots_planned = open_spots.total()
    full, spot = minutes.get(Kind.FULL, 0), minutes.get(Kind.SPOT, 0)
    spots_by_spot = _take(open_spots, counted)
    spots_by_full = _take(open_spots, left_over)
    full_met = len(given_full) - len(left_over)
    return Coverage(
        credited=full_met * full + spots_by_full * min(full, spot) + spots_by_spot * spot,
        possible=len(planned_full) * full + spots_planned * spot,
        full_met=full_met,
        full_planned=len(planned_full),
        spots_met=spots_by_full + spots_by_spot,
        spots_planned=spots_planned,
        uncounted=tuple(uncounted),
    )


def days_of(kind: Kind, sessions: Iterable[PlannedSession]) -> list[date]:
    return [session.on for session in sessions if session.kind is kind]


def part_spots(spots: Sequence[date], full_bodies: Sequence[date], within: int) -> tuple[list[date], list[date]]:
    """Part the spots (both lists are sorted) into those a full body carries and those none does."""
    counted: list[date] = []
    uncounted: list[date] = []
    latest: date | None = None
    waiting = iter([*full_bodies, date.max])
    following = next(waiting)
    for spot in spots:
        while following <= spot:
            latest, following = following, next(waiting)
        carried = latest is not None and (spot - latest).days <= within
        (counted if carried else uncounted).append(spot)
    return counted, uncounted


def _left_over(given: Sequence[date], planned: Sequence[date], tolerance: int) -> list[date]:
    """The given full bodies that match none of the guideline's; both lists are sorted."""
    left_over: list[date] = []
    place = 0
    reach = timedelta(days=tolerance)
    for day in given:
        while place < len(planned) and planned[place] < day - reach:
            place += 1
        if place < len(planned) and planned[place] <= day + reach:
            place += 1
        else:
            left_over.append(day)
    return left_over


def _take(open_spots: Counter[date], days: Iterable[date]) -> int:
    """How many of `days` meet a guideline spot of the same day; each that is met is used up."""
    met = 0
    for day in days:
        if open_spots[day] > 0:
            open_spots[day] -= 1
            met += 1
    return met


def longest_gap(sessions: Iterable[PlannedSession], start: date, days: int) -> int:
    """The longest stretch without a full body in days, counted from the start and to the end of the term.

    The term ends on the day after its last: one full body on the first of 28 days leaves a gap of 28.
    """
    marks = [start, *sorted(days_of(Kind.FULL, sessions))]
    ends = [*marks[1:], start + timedelta(days=days)]
    return max((end - mark).days for mark, end in zip(marks, ends, strict=True))
