"""Line up the days of several horses: move their starts a little, so that they share as many stops as they can."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from functools import reduce
from heapq import nsmallest
from itertools import accumulate
from math import prod
from operator import or_

from billing.money.words import say_amount
from billing.quotes.charging import lines_of
from billing.quotes.laying import lay_option
from billing.quotes.owner_money import owners_taxed, total_of
from billing.quotes.request import HorsePlan, Option, PricingRequest
from clients.plans.cadence import PlannedSession

MOST_TRIED = 7**6
MOST_PRICED = 16


@dataclass(frozen=True, slots=True)
class LinedUp:
    """The days after the term's start on which each horse starts (`shifts`), and what that saves."""

    option: Option
    shifts: Mapping[str, int]
    stops_before: int
    stops_after: int
    saved: Decimal
    sentence: str


@dataclass(frozen=True, slots=True)
class Start:
    """One start of one horse: how far it is moved, and its stops as bits (two a day, one for each part)."""

    moved: int
    stops: int


def line_up(request: PricingRequest, option: Option, tolerance_days: int) -> LinedUp | None:
    """Move each horse's start by at most `tolerance_days` so that the option has the fewest stops.

    Among those the cheapest, then the one that moves least, then that of the earliest starts in the stated order. Only
    horses by visits move; none loses a session, and the total never rises. None if no move saves a stop. Up to six
    horses and three days every combination is weighed; beyond that one horse after the other is moved, each time the
    one that saves most. Of equally few stops the MOST_PRICED that move least are priced.
    """
    names = [horse.name for horse in request.horses]
    starts = [_starts(request, option.plans[name], tolerance_days) for name in names]
    fixed = _stops(request, (each for days in lay_option(request, option).horses if days.machine for each in days.ours))
    before = reduce(or_, (some[0].stops for some in starts), fixed).bit_count()
    if prod(len(some) for some in starts) <= MOST_TRIED:
        found = _fewest(fixed, starts, before)
    else:
        found = _improved(fixed, starts, before)
    total = _total(request, option)
    least = nsmallest(MOST_PRICED, found, key=_moved)
    priced = [(_total(request, _with(option, names, moves)), *_moved(moves), moves) for moves in least]
    best = min((each for each in priced if each[0] <= total), default=None)
    if best is None:
        return None
    return _lined_up(request, option, best[-1], before, total - best[0])


def _starts(request: PricingRequest, plan: HorsePlan, tolerance: int) -> list[Start]:
    """Where a horse may start, its present start first, then the nearest; no start loses a session."""
    if plan.visits is None or plan.hire is not None:
        return [Start(0, 0)]
    earliest = max(plan.shift - tolerance, 0)
    latest = min(plan.shift + tolerance, request.days - 1)
    starts: list[Start] = []
    sessions = 0
    for shift in sorted(range(earliest, latest + 1), key=lambda shift: (abs(shift - plan.shift), shift)):
        start = request.start + timedelta(days=shift)
        laid = plan.visits.expand(start, request.days - shift).sessions
        sessions = sessions if starts else len(laid)
        if len(laid) >= sessions:
            starts.append(Start(shift - plan.shift, _stops(request, laid)))
    return starts


def _stops(request: PricingRequest, sessions: Iterable[PlannedSession]) -> int:
    stops = {2 * (session.on - request.start).days + session.part - 1 for session in sessions}
    return sum(1 << stop for stop in stops)


def _fewest(fixed: int, starts: Sequence[Sequence[Start]], before: int) -> list[tuple[int, ...]]:
    """Every combination of moves with the fewest stops, if these are fewer than `before`.

    A branch is cut as soon as the stops so far, which only grow, are too many.
    """
    fewest = before - 1
    found: list[tuple[int, ...]] = []

    def try_from(place: int, stops: int, moves: tuple[int, ...]) -> None:
        nonlocal fewest
        count = stops.bit_count()
        if count > fewest:
            return
        if place < len(starts):
            for start in starts[place]:
                try_from(place + 1, stops | start.stops, (*moves, start.moved))
            return
        if count < fewest:
            fewest = count
            found.clear()
        found.append(moves)

    try_from(0, fixed, ())
    return found


def _improved(fixed: int, starts: Sequence[Sequence[Start]], before: int) -> list[tuple[int, ...]]:
    """Move the horse that saves most, again and again, until no single move saves a stop."""
    chosen = [some[0] for some in starts]
    fewest = before
    while True:
        tries = [
            (count, abs(start.moved), start.moved, place, start)
            for place, others in enumerate(_others(fixed, chosen))
            for start in starts[place]
            if (count := (others | start.stops).bit_count()) < fewest
        ]
        if not tries:
            break
        fewest, _far, _moved, place, start = min(tries, key=lambda each: each[:4])
        chosen[place] = start
    return [tuple(start.moved for start in chosen)] if fewest < before else []


def _others(fixed: int, chosen: Sequence[Start]) -> Iterator[int]:
    """For each horse the stops of all the others."""
    stops = [start.stops for start in chosen]
    ahead = list(accumulate(stops[:-1], or_, initial=fixed))
    behind = list(accumulate(reversed(stops[1:]), or_, initial=0))
    return map(or_, ahead, reversed(behind))


def _moved(moves: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
    return sum(map(abs, moves)), moves


def _with(option: Option, names: Sequence[str], moves: Sequence[int]) -> Option:
    plans = {
        name: replace(option.plans[name], shift=option.plans[name].shift + move)
        for name, move in zip(names, moves, strict=True)
    }
    return replace(option, plans=plans)


def _total(request: PricingRequest, option: Option) -> Decimal:
    return total_of(owners_taxed(request, lines_of(request, lay_option(request, option))))


def _lined_up(request: PricingRequest, option: Option, moves: tuple[int, ...], before: int, saved: Decimal) -> LinedUp:
    names = [horse.name for horse in request.horses]
    moved = _with(option, names, moves)
    after = len(lay_option(request, moved).stops)
    said = " and ".join(_say(name, move) for name, move in zip(names, moves, strict=True) if move)
    price = f"{say_amount(saved, request.currency)} less" if saved else "at the same price"
    return LinedUp(
        option=moved,
        shifts={name: moved.plans[name].shift for name in names},
        stops_before=before,
        stops_after=after,
        saved=saved,
        sentence=f"Start {said}: {after} stop{'s' if after != 1 else ''} instead of {before}, {price}.",
    )


def _say(name: str, move: int) -> str:
    return f"{name} {abs(move)} day{'s' if abs(move) != 1 else ''} {'later' if move > 0 else 'earlier'}"
