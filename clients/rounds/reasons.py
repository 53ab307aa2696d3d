"""Why a stop has no place in a day: the day is planned again with one rule at a time set aside."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from itertools import combinations

from clients.rounds import exact
from clients.rounds.day_round import (
    LOCKED_TIER,
    DayRequest,
    Isolation,
    Reason,
    ReasonCode,
    Span,
    Stop,
    Unplaced,
)
from clients.rounds.polish import insertions
from clients.rounds.search import searched_day
from clients.rounds.timing import Course, Timing
from clients.rounds.vehicle_search import Effort

SENTENCES = {
    ReasonCode.WINDOW: "It would fit at another time than its own.",
    ReasonCode.DAY_TOO_LONG: "A longer day would let it in.",
    ReasonCode.ISOLATION: "It would fit if a cleaner stop could follow a less clean one.",
    ReasonCode.LOCKED_ELSEWHERE: "It cannot be kept together with the locked stops of the day.",
    ReasonCode.DISPLACES_SAME: "It would fit only in place of another stop that matters as much.",
    ReasonCode.DISPLACES_HIGHER: "It would fit only in place of a stop that matters more.",
    ReasonCode.NOBODY: "Nobody who works that day may do it.",
}

_EFFORT = Effort(iterations=150)
_MOST_SEARCHES = 60

Trial = Callable[[DayRequest, Stop], DayRequest]


def reasons_for_unplaced(request: DayRequest, course: Course) -> tuple[Unplaced, ...]:
    """Every stop the day leaves out, each with all the reasons found.

    Up to `exact.MOST_STOPS_FOR_ROOM` stops in a trial, this is proven. Above that, a day that was not found counts as
    none: a rule to set aside may be missed, and the placed stops be named in its stead.
    """
    trials = _Trials(request, course)
    absent = [stop for index, stop in enumerate(request.stops) if index not in course.order]
    return tuple(Unplaced(stop.key, trials.reasons(stop)) for stop in absent)


@dataclass
class _Trials:
    """The days planned again beside one plan. Long searches are counted, so that a day asked to hold
    hundreds of stops is still answered."""

    request: DayRequest
    course: Course
    searches: int = 0

    def reasons(self, stop: Stop) -> tuple[Reason, ...]:
        codes = [code for code in RELAXED if self._fits_without((code,), stop)]
        if self._fits(self.request, [], stop):
            codes += self._reasons_of_others(stop)
        if not codes:
            codes = self._reasons_together(stop)
        return tuple(Reason(code, SENTENCES[code]) for code in codes)

    @property
    def _placed(self) -> list[Stop]:
        return [self.request.stops[index] for index in self.course.order]

    def _reasons_of_others(self, stop: Stop) -> list[ReasonCode]:
        """For a stop that would fit in an empty day: what the placed ones have to do with it."""
        codes = []
        locked = [other for other in self._placed if other.tier == LOCKED_TIER]
        if locked and not self._fits(self.request, locked, stop):
            codes.append(ReasonCode.LOCKED_ELSEWHERE)
        higher = [other for other in self._placed if other.tier > stop.tier]
        same = not higher or self._fits(self.request, higher, stop)
        codes.append(ReasonCode.DISPLACES_SAME if same else ReasonCode.DISPLACES_HIGHER)
        return codes

    def _reasons_together(self, stop: Stop) -> list[ReasonCode]:
        """Where no rule alone stands in the way: the fewest that do so together."""
        for count in range(2, len(RELAXED) + 1):
            for codes in combinations(RELAXED, count):
                if self._fits_without(codes, stop):
                    return list(codes)
        raise ValueError(f"No rule keeps {stop.key} out of the day, yet it was left out.")

    def _fits_without(self, codes: Iterable[ReasonCode], stop: Stop) -> bool:
        """Is there a day with all placed stops and this one, these rules set aside?"""
        relaxed = self.request
        for code in codes:
            relaxed = RELAXED[code](relaxed, stop)
        if relaxed == self.request:
            return False
        stops = {other.key: other for other in relaxed.stops}
        return self._fits(relaxed, [stops[other.key] for other in self._placed], stops[stop.key])

    def _fits(self, request: DayRequest, kept: list[Stop], stop: Stop) -> bool:
        """Is there a day with these stops and this one, and lunch unless a locked stop may cost it?"""
        trial = replace(request, stops=(*kept, stop))
        if self.course.lunch_start is None or stop.locked is not None:
            trial = replace(trial, lunch=None)
        timing = Timing.of(trial)
        as_placed = tuple(range(len(kept)))
        if any(_is_whole(timing, timing.best_of_order(o)) for o in insertions(as_placed, len(kept))):
            return True
        if len(trial.stops) <= exact.MOST_STOPS_FOR_ROOM:
            return exact.has_room_for_all(trial)
        if self.searches >= _MOST_SEARCHES:
            return False
        self.searches += 1
        return _is_whole(timing, searched_day(trial, _EFFORT))


def _is_whole(timing: Timing, course: Course | None) -> bool:
    """Does the day make every stop, with lunch where it is asked for?"""
    if course is None or len(course.visits) < len(timing.request.stops):
        return False
    return timing.request.lunch is None or course.lunch_start is not None


def _at_any_time(request: DayRequest, stop: Stop) -> DayRequest:
    stops = (replace(other, windows=(), locked=None) if other.key == stop.key else other for other in request.stops)
    return replace(request, stops=tuple(stops))


def _longer_day(request: DayRequest, stop: Stop) -> DayRequest:
    """Long enough on both sides to do all the work, with the longest drive before and after each stop."""
    longest = max(max(row) for row in request.drive)
    work = sum(other.seconds + 2 * longest for other in request.stops)
    work += request.lunch.seconds if request.lunch is not None else 0
    return replace(request, day=Span(request.day.start - work, request.day.end + work))


def _any_order(request: DayRequest, stop: Stop) -> DayRequest:
    clean = tuple(replace(other, isolation=Isolation.CLEAN) for other in request.stops)
    return replace(request, stops=clean)


RELAXED: dict[ReasonCode, Trial] = {
    ReasonCode.WINDOW: _at_any_time,
    ReasonCode.DAY_TOO_LONG: _longer_day,
    ReasonCode.ISOLATION: _any_order,
}
