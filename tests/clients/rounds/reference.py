"""The best day by trying everything: every order of every choice of stops, every place for lunch.

Written from the rules alone and sharing no code with the solver, so that the two can be held against each other.
"""

from collections.abc import Iterator
from itertools import pairwise

from clients.rounds.day_round import DayPlan, DayRequest, Stop

Figures = tuple[object, ...]


def best_figures(request: DayRequest) -> Figures:
    """Locked stops (counted below zero, as all counts), lunch missed, high, normal, low, drive, back, waiting, order,
    lunch, leaving: the least there is."""
    return min(
        figures
        for lunch_at in _lunch_places(request)
        for order, times in _orders(request, lunch_at, (), _first_moment(request, lunch_at))
        if (figures := _figures(request, lunch_at, order, times)) is not None
    )


def figures_of(request: DayRequest, plan: DayPlan) -> Figures:
    """The same figures of a plan, read from what it says."""
    indices = {stop.key: index for index, stop in enumerate(request.stops)}
    order = tuple(indices[planned.key] for planned in plan.order)
    tiers = [-sum(_tier(request.stops[i]) == tier for i in order) for tier in (3, 2, 1, 0)]
    missed = request.lunch is not None and plan.lunch is None
    back = request.day.start if plan.back is None else plan.back
    lunch = 0 if plan.lunch is None else plan.lunch.start
    return (tiers[0], missed, *tiers[1:], plan.drive_seconds, back, plan.wait_seconds, order, lunch, -(plan.leave or 0))


def _lunch_places(request: DayRequest) -> Iterator[tuple[str, int] | None]:
    yield None
    if request.lunch is not None:
        yield ("leaving", -1)
        yield ("return", -1)
        for index in range(len(request.stops)):
            yield ("before", index)
            yield ("after", index)


def _first_moment(request: DayRequest, lunch_at) -> int:
    if lunch_at == ("leaving", -1):
        return max(request.day.start, request.lunch.span.start + request.lunch.seconds)
    return request.day.start


def _orders(request, lunch_at, order, now, times=()) -> Iterator[tuple]:
    """Orders that can be driven, each with (ready, start, lunch) of its stops."""
    yield order, times
    for index, stop in enumerate(request.stops):
        if index in order or (order and request.stops[order[-1]].isolation > stop.isolation):
            continue
        here = request.stops[order[-1]].place if order else 0
        moment, lunch = now + request.drive[here][stop.place], None
        if lunch_at == ("before", index):
            lunch = max(moment, request.lunch.span.start)
            moment = lunch + request.lunch.seconds
        start = min((s for s in _starts(request, stop, moment)), default=None)
        if start is None:
            continue
        ready = start + stop.seconds
        if lunch_at == ("after", index):
            lunch = max(ready, request.lunch.span.start)
            ready = lunch + request.lunch.seconds
        if lunch is not None and lunch > request.lunch.span.end:
            continue
        yield from _orders(request, lunch_at, (*order, index), ready, (*times, (ready, start, lunch)))


def _starts(request: DayRequest, stop: Stop, moment: int) -> Iterator[int]:
    if stop.locked is not None:
        windows = [(stop.locked, stop.locked)]
    else:
        windows = [(w.start, w.end) for w in stop.windows or (request.day,)]
    for opens, closes in windows:
        if max(opens, moment) <= closes:
            yield max(opens, moment)


def _figures(request, lunch_at, order, times) -> Figures | None:
    if lunch_at is not None and lunch_at[1] >= 0 and lunch_at[1] not in order:
        return None
    lunch = next((lunch for _, _, lunch in times if lunch is not None), None)
    if lunch_at == ("leaving", -1):
        lunch = request.lunch.span.start
    tiers = [-sum(_tier(request.stops[i]) == tier for i in order) for tier in (3, 2, 1, 0)]
    missed = request.lunch is not None and lunch_at is None
    if not order:
        if lunch_at == ("return", -1):
            return None
        return (0, missed, 0, 0, 0, 0, request.day.start, 0, (), lunch or 0, 0)
    places = [0, *(request.stops[i].place for i in order), 0]
    drive = sum(request.drive[a][b] for a, b in pairwise(places))
    back = times[-1][0] + request.drive[places[-2]][0]
    if back > request.day.end:
        return None
    if lunch_at == ("return", -1):
        lunch = max(back, request.lunch.span.start)
        if lunch > request.lunch.span.end:
            return None
    leave, lunch = _latest_leave(request, lunch_at, order, times, lunch)
    on_road = request.lunch.seconds if lunch_at is not None and lunch_at[1] >= 0 else 0
    wait = back - leave - drive - sum(request.stops[i].seconds for i in order) - on_road
    return (tiers[0], missed, *tiers[1:], drive, back, wait, order, lunch or 0, -leave)


def _latest_leave(request, lunch_at, order, times, lunch):
    first = request.stops[order[0]]
    arrive = times[0][1]
    if lunch_at == ("before", order[0]):
        arrive = lunch = min(request.lunch.span.end, times[0][1] - request.lunch.seconds)
    return arrive - request.drive[0][first.place], lunch


def _tier(stop: Stop) -> int:
    return 3 if stop.locked is not None else int(stop.priority)
