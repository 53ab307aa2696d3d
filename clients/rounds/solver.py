"""The day's round: the best order of the stops, and what an order typed by hand costs beside it.

The one door to whatever solves it. No plan leaves here without having passed the inspection of all rules.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from clients.rounds.day_round import (
    DayPlan,
    DayRequest,
    Isolation,
    PlannedLunch,
    PlannedStop,
    Span,
    Stop,
    Unplaced,
)
from clients.rounds.inspection import faults
from clients.rounds.ordering import best_course
from clients.rounds.reasons import reasons_for_unplaced
from clients.rounds.timing import Course, Timing
from clients.rounds.vehicle_search import Effort

LUNCH_LEFT_OUT = "Lunch is left out: it cannot be had together with the locked stops."
_NO_LUNCH_IN_ORDER = "Lunch has no place in this order."


class BrokenPlan(RuntimeError):
    """A plan that breaks a rule of its own request: a mistake in the program, never shown as a plan."""


def plan_day(request: DayRequest, *, effort: Effort | None = None) -> DayPlan:
    """The best day for these stops, with every stop that has no place and all reasons why.

    Best means, in this order: the most locked stops; lunch had; the most stops of high, normal, low
    priority; the fewest seconds of drive; the earliest return; the least waiting; the order of the
    request; the earliest lunch. Every stop starts as early as it can, and the base is left as late as
    the first start allows. Exact for few stops (`exact.MOST_STOPS`); more are searched with `effort`, counted and
    seeded, so that the same request gives the same plan.
    """
    course = best_course(request, effort=effort)
    return checked_plan(request, course, reasons_for_unplaced(request, course))


def checked_plan(request: DayRequest, course: Course, unplaced: tuple[Unplaced, ...]) -> DayPlan:
    """The course as a plan that has passed the inspection; raises BrokenPlan."""
    notices = (LUNCH_LEFT_OUT,) if request.lunch is not None and course.lunch_start is None else ()
    plan = _plan_of(request, course, unplaced, notices)
    broken = faults(request, plan)
    if broken:
        raise BrokenPlan(" ".join(broken))
    return plan


@dataclass(frozen=True, slots=True)
class OrderCost:
    """An order of one's own: its day, the rules it breaks as sentences, and the best day of the same stops."""

    plan: DayPlan
    faults: tuple[str, ...]
    best: DayPlan

    @property
    def drive_seconds_saved(self) -> int | None:
        """How much less the best day drives; None where it leaves out a stop and so is no comparison."""
        return None if self.best.unplaced else self.plan.drive_seconds - self.best.drive_seconds

    @property
    def back_seconds_earlier(self) -> int | None:
        """How much earlier the best day is back; None as above, and without a stop."""
        if self.best.unplaced or self.plan.back is None or self.best.back is None:
            return None
        return self.plan.back - self.best.back


def order_cost(request: DayRequest, order: Sequence[str], *, effort: Effort | None = None) -> OrderCost:
    """What it costs to make these stops, given by their keys, in exactly this order.

    Every stop named is made, late where it must be; lunch goes where the fewest rules are broken. Stops
    not named are left out without a reason. Raises ValueError for a key unknown or named twice.
    """
    indices = {stop.key: index for index, stop in enumerate(request.stops)}
    if len(set(order)) != len(order) or not set(order) <= set(indices):
        raise ValueError("An order names each of its stops once, and only stops of the day.")
    left_out = tuple(Unplaced(key, ()) for key in indices if key not in set(order))
    plans = [
        _plan_of(request, course, left_out, () if request.lunch is None else _lunch_notice(course))
        for course in _every_timing(_patient(request), [indices[key] for key in order])
    ]
    plan = min(plans, key=lambda plan: _cost(request, plan))
    best = plan_day(replace(request, stops=tuple(request.stops[indices[key]] for key in order)), effort=effort)
    return OrderCost(plan, tuple(faults(request, plan)), best)


def _lunch_notice(course: Course) -> tuple[str, ...]:
    return () if course.lunch_start is not None else (_NO_LUNCH_IN_ORDER,)


def _cost(request: DayRequest, plan: DayPlan) -> tuple[int, int, int, int]:
    lunch = -1 if plan.lunch is None else plan.lunch.start
    return len(faults(request, plan)), plan.back or 0, plan.wait_seconds, lunch


def _patient(request: DayRequest) -> DayRequest:
    """The day with everybody waiting for the practitioner: late is allowed, early is not, and any order."""
    longest = max(max(row) for row in request.drive)
    work = sum(stop.seconds + longest for stop in request.stops) + longest
    lunch = request.lunch.seconds if request.lunch is not None else 0
    latest = [span.end for stop in request.stops for span in stop.start_windows(request.day)]
    lunch_end = request.lunch.span.end if request.lunch is not None else 0
    end = max(request.day.end, request.day.start, lunch_end, *latest) + work + 2 * lunch
    stops = tuple(_patient_stop(stop, request.day, end) for stop in request.stops)
    return replace(request, day=Span(request.day.start, end), stops=stops)


def _patient_stop(stop: Stop, day: Span, end: int) -> Stop:
    windows = stop.start_windows(day)
    late = Span(max((span.end + 1 for span in windows), default=day.start), end)
    return replace(stop, windows=(*windows, late), locked=None, isolation=Isolation.CLEAN)


def _every_timing(request: DayRequest, order: Sequence[int]) -> list[Course]:
    """One whole day for each place lunch can have in this order, and one without lunch."""
    timing = Timing.of(request)
    courses = timing.departures()
    for stop in order:
        courses = [longer for course in courses for longer in timing.go_on(course, stop)]
    return [home for course in courses for home in timing.come_back(course)]


def _plan_of(request: DayRequest, course: Course, unplaced: tuple[Unplaced, ...], notices: tuple[str, ...]) -> DayPlan:
    order = tuple(
        PlannedStop(request.stops[visit.stop].key, visit.arrive, visit.start, visit.end) for visit in course.visits
    )
    return DayPlan(
        order=order,
        lunch=_lunch_of(request, course),
        leave=course.leave,
        back=course.ready if order else None,
        drive_seconds=course.drive,
        wait_seconds=Timing.of(request).wait(course),
        unplaced=unplaced,
        notices=notices,
    )


def _lunch_of(request: DayRequest, course: Course) -> PlannedLunch | None:
    if request.lunch is None or course.lunch_start is None or course.lunch_where is None:
        return None
    key = None if course.lunch_stop is None else request.stops[course.lunch_stop].key
    return PlannedLunch(course.lunch_start, course.lunch_start + request.lunch.seconds, course.lunch_where, key)
