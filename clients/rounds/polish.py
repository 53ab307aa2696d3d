"""Small changes to a found day, kept while they make it better by the full ranking, ties included."""

from collections.abc import Iterable, Iterator
from itertools import pairwise

from clients.rounds.day_round import BASE, DayRequest
from clients.rounds.timing import Course, Timing

# Of many stops left out, those of the highest tiers and on the shortest detours are tried.
_MOST_ABSENT = 30

Order = tuple[int, ...]


def polished(timing: Timing, course: Course) -> Course:
    """The day after stops were put in, exchanged, moved and turned round for as long as that helps."""
    while (better := _first_better(timing, course)) is not None:
        course = better
    return course


def _first_better(timing: Timing, course: Course) -> Course | None:
    rank = timing.rank(course)
    for order in _neighbours(timing.request, course):
        other = timing.best_of_order(order)
        if other is not None and timing.rank(other) < rank:
            return other
    return None


def _neighbours(request: DayRequest, course: Course) -> Iterator[Order]:
    """Orders that may be better: more or higher stops than now, as many with less drive, or the same ones
    with no more."""
    order = course.order
    absent = [stop for stop in range(len(request.stops)) if stop not in order]
    absent.sort(key=lambda stop: -request.stops[stop].tier)
    if len(absent) > _MOST_ABSENT:
        absent = sorted(absent, key=lambda stop: (-request.stops[stop].tier, _detour(request, order, stop)))
        absent = absent[:_MOST_ABSENT]
    for stop in absent:
        yield from _with_time(request, insertions(order, stop))
    for changed in _reorderings(order):
        if drive_of(request, changed) <= course.drive:
            yield changed
    for changed in _with_time(request, _exchanges(request, order, absent)):
        if _tiers(request, changed) > _tiers(request, order) or drive_of(request, changed) < course.drive:
            yield changed


def _with_time(request: DayRequest, orders: Iterable[Order]) -> Iterator[Order]:
    """Those whose drives and stops alone do not take longer than the day."""
    length = request.day.end - request.day.start
    for order in orders:
        if drive_of(request, order) + sum(request.stops[stop].seconds for stop in order) <= length:
            yield order


def _tiers(request: DayRequest, order: Order) -> int:
    return sum(request.stops[stop].tier for stop in order)


def insertions(order: Order, stop: int) -> Iterator[Order]:
    """The orders with one stop more, at every position."""
    for position in range(len(order) + 1):
        yield (*order[:position], stop, *order[position:])


def _detour(request: DayRequest, order: Order, stop: int) -> int:
    """The least drive that one stop more adds."""
    drive, there = request.drive, request.stops[stop].place
    places = [BASE, *(request.stops[each].place for each in order), BASE]
    return min(drive[here][there] + drive[there][to] - drive[here][to] for here, to in pairwise(places))


def _exchanges(request: DayRequest, order: Order, absent: list[int]) -> Iterator[Order]:
    """One stop replaced by another of at least its tier, at the same position."""
    for position, present in enumerate(order):
        for stop in absent:
            if request.stops[stop].tier >= request.stops[present].tier:
                yield (*order[:position], stop, *order[position + 1 :])


def _reorderings(order: Order) -> Iterator[Order]:
    for first in range(len(order)):
        for last in range(first + 1, len(order)):
            head, part, tail = order[:first], order[first : last + 1], order[last + 1 :]
            yield (*head, *part[::-1], *tail)
            yield (*head, *part[1:], part[0], *tail)
            yield (*head, part[-1], *part[:-1], *tail)
            yield (*head, part[-1], *part[1:-1], part[0], *tail)


def drive_of(request: DayRequest, order: Order) -> int:
    """Seconds of drive from the base through these stops and back; none without a stop."""
    if not order:
        return 0
    places = [BASE, *(request.stops[stop].place for stop in order), BASE]
    return sum(request.drive[here][there] for here, there in pairwise(places))
