"""Does a plan keep every rule of its request? Told from the plan's own times, not from how it was made."""

from collections.abc import Iterator
from itertools import pairwise

from clients.rounds.clock import clock
from clients.rounds.day_round import (
    BASE,
    ON_THE_ROAD,
    DayPlan,
    DayRequest,
    LunchPlace,
    PlannedLunch,
    PlannedStop,
    Stop,
    by_key,
)


def faults(request: DayRequest, plan: DayPlan) -> list[str]:
    """Every rule the plan breaks, as sentences with stops by their keys; none for a plan to rely on.

    A plan whose stops are not those of the request is told so and looked at no further.
    """
    strangers = list(_strangers(request, plan))
    if strangers:
        return strangers
    return [
        *_wrong_stops(request, plan),
        *_wrong_isolation(request, plan),
        *_wrong_course(request, plan),
        *_wrong_lunch(request, plan),
        *_wrong_sums(request, plan),
    ]


def _strangers(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    told = [planned.key for planned in plan.order] + [unplaced.key for unplaced in plan.unplaced]
    asked = [stop.key for stop in request.stops]
    for key in sorted(set(told) - set(asked)):
        yield f"{key} was not asked for."
    for key in asked:
        if told.count(key) != 1:
            yield f"{key} is told of {told.count(key)} times."
    if (plan.leave is None or plan.back is None) and plan.order:
        yield "There are stops, but no leaving or coming back."
    if plan.lunch is not None and request.lunch is None:
        yield "There is a lunch that nobody asked for."
    if plan.lunch is not None and (plan.lunch.where in ON_THE_ROAD) != (
        plan.lunch.key in {planned.key for planned in plan.order}
    ):
        yield "Lunch is at a barn that is not on the round."


def _wrong_stops(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    stops = by_key(request)
    for planned in plan.order:
        stop = stops[planned.key]
        if planned.end - planned.start != stop.seconds:
            yield f"{planned.key} does not last as long as it must."
        if planned.start < planned.arrive:
            yield f"{planned.key} starts before its arrival."
        if stop.locked is not None and planned.start != stop.locked:
            yield f"{planned.key} starts at {clock(planned.start)}, but is locked at {clock(stop.locked)}."
        elif not any(window.holds(planned.start) for window in stop.start_windows(request.day)):
            yield f"{planned.key} starts at {clock(planned.start)}, {_outside(stop, request, planned.start)}."


def _outside(stop: Stop, request: DayRequest, start: int) -> str:
    windows = stop.start_windows(request.day)
    if not windows:
        return "but it has no window to start in"
    if start < windows[0].start:
        return f"before its window opens at {clock(windows[0].start)}"
    return f"after its window ends at {clock(max(w.end for w in windows if w.start <= start))}"


def _wrong_isolation(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    stops = by_key(request)
    for before, after in pairwise(plan.order):
        if stops[after.key].isolation < stops[before.key].isolation:
            yield f"{after.key} is cleaner than {before.key}, which comes before it."


def _wrong_course(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    """Leaving, each drive, and coming back: nothing may come sooner than what is before it allows."""
    if plan.leave is None or plan.back is None:
        return
    stops = by_key(request)
    if plan.leave < request.day.start:
        yield f"The day begins at {clock(request.day.start)}, but is left for at {clock(plan.leave)}."
    place, free = BASE, plan.leave
    for planned in plan.order:
        arrive = free + request.drive[place][stops[planned.key].place]
        if planned.arrive != arrive:
            yield f"{planned.key} is reached at {clock(arrive)}, not at {clock(planned.arrive)}."
        place, free = stops[planned.key].place, planned.end
        if _is_after(plan.lunch, planned):
            free = plan.lunch.end if plan.lunch is not None else free
    back = free + request.drive[place][BASE]
    if plan.back != back:
        yield f"The base is reached at {clock(back)}, not at {clock(plan.back)}."
    if plan.back > request.day.end:
        yield f"The base is reached at {clock(plan.back)}, but the day ends at {clock(request.day.end)}."


def _is_after(lunch: PlannedLunch | None, planned: PlannedStop) -> bool:
    return lunch is not None and lunch.where is LunchPlace.AFTER_STOP and lunch.key == planned.key


def _wrong_lunch(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    if request.lunch is None:
        return
    lunch = plan.lunch
    if lunch is None:
        if not any(stop.locked is not None and _is_placed(plan, stop) for stop in request.stops):
            yield "Lunch is left out, but no locked visit needs its time."
        if not plan.notices:
            yield "Lunch is left out, and nobody is told."
        return
    if lunch.end - lunch.start != request.lunch.seconds:
        yield "Lunch does not last as long as it must."
    if not request.lunch.span.holds(lunch.start):
        yield f"Lunch starts at {clock(lunch.start)}, outside its span."
    yield from _lunch_out_of_place(plan, lunch)


def _is_placed(plan: DayPlan, stop: Stop) -> bool:
    return any(planned.key == stop.key for planned in plan.order)


def _lunch_out_of_place(plan: DayPlan, lunch: PlannedLunch) -> Iterator[str]:
    if lunch.where is LunchPlace.BEFORE_LEAVING and plan.leave is not None and plan.leave < lunch.end:
        yield "The base is left before lunch there has ended."
    if lunch.where is LunchPlace.AFTER_RETURN and plan.back is not None and plan.back > lunch.start:
        yield "Lunch at the base starts before the return."
    for planned in plan.order:
        if planned.key != lunch.key:
            continue
        if lunch.where is LunchPlace.BEFORE_STOP and not (planned.arrive <= lunch.start and lunch.end <= planned.start):
            yield f"Lunch does not lie between arriving at {planned.key} and starting there."
        if lunch.where is LunchPlace.AFTER_STOP and lunch.start < planned.end:
            yield f"Lunch starts before {planned.key} has ended."


def _wrong_sums(request: DayRequest, plan: DayPlan) -> Iterator[str]:
    stops = by_key(request)
    places = [BASE, *(stops[planned.key].place for planned in plan.order), BASE]
    legs = sum(request.drive[here][there] for here, there in pairwise(places)) if plan.order else 0
    if plan.drive_seconds != legs:
        yield f"The drives add up to {legs} seconds, not {plan.drive_seconds}."
    if plan.leave is None or plan.back is None:
        return
    busy = legs + sum(planned.end - planned.start for planned in plan.order)
    if plan.lunch is not None and plan.lunch.where in ON_THE_ROAD:
        busy += plan.lunch.end - plan.lunch.start
    if plan.wait_seconds != plan.back - plan.leave - busy:
        yield f"The waiting is {plan.back - plan.leave - busy} seconds, not {plan.wait_seconds}."
