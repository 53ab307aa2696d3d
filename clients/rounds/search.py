"""The order of a longer day, found by PyVRP and then put right to the second by our own timing.

PyVRP sees a little less than the rules: it knows the strict tiers as prizes far apart, and lunch as a longer
stay at one barn. So several models are solved, one for each kind of place lunch can be taken, and their
orders are judged by `Timing.rank` alone.
"""

import warnings
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from clients.rounds.day_round import BASE, LOCKED_TIER, DayRequest, Lunch, Priority, Span, Stop
from clients.rounds.polish import polished
from clients.rounds.timing import Course, Timing

if TYPE_CHECKING:
    import pyvrp

SEED = 1
_FEW_STOPS, _ITERATIONS_FOR_FEW = 15, 1_000
_ITERATIONS_A_STOP, _MOST_ITERATIONS = 200, 5_000
# PyVRP weighs a broken window against prizes that are this large, and counts in 64 bits.
_MOST_PENALTY, _MOST_COST = 1e12, 1e18
_LONGEST_WEIGHED_DAY = 200_000
_LUNCH_TIER = LOCKED_TIER - 0.5


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search: by counted rounds and a seed, never by the clock, so that a day planned twice
    comes out the same."""

    iterations: int
    seed: int = SEED

    @classmethod
    def for_stops(cls, stops: int) -> "Effort":
        """Enough to reach the best day known in nearly all trials up to 25 stops for one practitioner."""
        if stops <= _FEW_STOPS:
            return cls(_ITERATIONS_FOR_FEW)
        return cls(min(_MOST_ITERATIONS, stops * _ITERATIONS_A_STOP))


def searched_day(request: DayRequest, effort: Effort) -> Course:
    """The best day found; reproducible, near the best there is, not proven to be it."""
    timing = Timing.of(request)
    orders = [_Model(variant, lunch).solve(effort) for variant, lunch in _lunch_variants(request)]
    courses = [course for order in orders if (course := timing.best_of_order(order)) is not None]
    return min((polished(timing, course) for course in courses), key=timing.rank)


def _lunch_variants(request: DayRequest) -> Iterator[tuple[DayRequest, Lunch | None]]:
    """The day with room made for lunch at the base before or after it, and with lunch on the road.

    Each is a request without lunch for PyVRP, beside the lunch that may be taken at a barn.
    """
    day, lunch = request.day, request.lunch
    bare = replace(request, lunch=None, stops=_with_the_day_as_window(request))
    if lunch is None or lunch.span.start > lunch.span.end:
        yield bare, None
        return
    eaten = lunch.span.start + lunch.seconds
    yield replace(bare, day=Span(max(day.start, eaten), day.end)), None
    if eaten <= day.start:
        return
    yield replace(bare, day=Span(day.start, min(day.end, lunch.span.end))), None
    if lunch.span.end < day.end:
        yield bare, lunch


def _with_the_day_as_window(request: DayRequest) -> tuple[Stop, ...]:
    return tuple(replace(stop, windows=stop.windows or (request.day,)) for stop in request.stops)


class _Model:
    """One PyVRP model: a single vehicle, one group of alternatives for each stop."""

    def __init__(self, request: DayRequest, lunch: Lunch | None) -> None:
        import pyvrp

        self.request, self.lunch = request, lunch
        self.horizon = max(0, request.day.end - request.day.start)
        self.model = pyvrp.Model()
        self.stop_of_client: list[int] = []
        self._add_everything()

    def _add_everything(self) -> None:
        locations = [self.model.add_location(0, 0) for _ in range(len(self.request.stops) + 1)]
        depot = self.model.add_depot(locations[0])
        prizes = _prizes(self.request, self.horizon, has_lunch=self.lunch is not None)
        for index, stop in enumerate(self.request.stops):
            self._add_stop(index, stop, locations[index + 1], prizes)
        self._add_drives(locations)
        self.model.add_vehicle_type(
            capacity=1,
            start_depot=depot,
            end_depot=depot,
            tw_early=0,
            tw_late=self.horizon,
            start_late=0,
            unit_distance_cost=_drive_weight(self.horizon),
            unit_duration_cost=1,
        )

    def _add_stop(self, index: int, stop: Stop, location: "pyvrp.Location", prizes: dict[float, int]) -> None:
        stays = list(self._stays(stop))
        group = self.model.add_client_group(required=False) if stays else None
        for starts, seconds, with_lunch in stays:
            self.model.add_client(
                location,
                delivery=int(with_lunch),
                service_duration=seconds,
                tw_early=starts.start,
                tw_late=starts.end,
                prize=prizes[stop.tier] + (prizes[_LUNCH_TIER] if with_lunch else 0),
                required=False,
                group=group,
            )
            self.stop_of_client.append(index)

    def _stays(self, stop: Stop) -> Iterator[tuple[Span, int, bool]]:
        """When the stop may begin after the start of the day, how long it takes, and whether with lunch."""
        day = self.request.day
        for window in stop.start_windows(day):
            stays = [(window, stop.seconds, False)]
            if self.lunch is not None:
                stays += [(*stay, True) for stay in _stays_with_lunch(window, stop.seconds, self.lunch)]
            for starts, seconds, with_lunch in stays:
                within = Span(max(0, starts.start - day.start), min(self.horizon, starts.end - day.start))
                if within.start <= within.end:
                    yield within, seconds, with_lunch

    def _add_drives(self, locations: list["pyvrp.Location"]) -> None:
        places = [BASE, *(stop.place for stop in self.request.stops)]
        levels = [None, *(stop.isolation for stop in self.request.stops)]
        never = 2 * self.horizon + 1
        for i, here in enumerate(locations):
            for j, there in enumerate(locations):
                if i == j:
                    continue
                before, after = levels[i], levels[j]
                cleaner = before is not None and after is not None and after < before
                drive = never if cleaner else min(never, self.request.drive[places[i]][places[j]])
                self.model.add_edge(here, there, distance=drive, duration=drive)

    def solve(self, effort: Effort) -> tuple[int, ...]:
        """The order of the stops as indices of the request."""
        from pyvrp import PenaltyParams, SolveParams
        from pyvrp.exceptions import PenaltyBoundWarning
        from pyvrp.stop import MaxIterations

        if not self.stop_of_client:
            return ()
        with warnings.catch_warnings():
            # Prizes far apart drive the penalties to their bound; our own timing judges what comes out.
            warnings.simplefilter("ignore", PenaltyBoundWarning)
            result = self.model.solve(
                MaxIterations(effort.iterations),
                seed=effort.seed,
                collect_stats=False,
                display=False,
                params=SolveParams(penalty=PenaltyParams(max_penalty=self._penalty())),
            )
        if not result.is_feasible():
            return ()
        return tuple(
            self.stop_of_client[activity.idx]
            for route in result.best.routes()
            for activity in route
            if activity.is_client()
        )

    def _penalty(self) -> float:
        """As high as can be without a cost beyond 64 bits were every stop as late as a stop can be."""
        latest = 4 * (self.horizon + 1) * (len(self.request.stops) + 1)
        return min(_MOST_PENALTY, _MOST_COST / latest)


def _stays_with_lunch(window: Span, seconds: int, lunch: Lunch) -> Iterator[tuple[Span, int]]:
    """A visit with lunch right after or before it as one longer stay: when it may begin, how long it is.

    A visit that must begin long before lunch is put off as far as its window allows, and waits for
    lunch at the barn; a lunch long before the window likewise. Neither changes when the stay ends.
    """
    put_off = max(window.start, lunch.span.start - seconds)
    if put_off <= window.end:
        yield Span(put_off, min(window.end, lunch.span.end - seconds)), seconds + lunch.seconds
    else:
        yield Span(window.end, window.end), lunch.span.start + lunch.seconds - window.end
    put_off = max(lunch.span.start, window.start - lunch.seconds)
    if put_off <= lunch.span.end:
        yield Span(put_off, min(lunch.span.end, window.end - lunch.seconds)), lunch.seconds + seconds
    else:
        yield Span(lunch.span.end, lunch.span.end), window.start + seconds - lunch.span.end


def _drive_weight(horizon: int) -> int:
    """What a second of drive costs beside a second of the day: more than any day has seconds."""
    return horizon + 1 if horizon <= _LONGEST_WEIGHED_DAY else 1


def _prizes(request: DayRequest, horizon: int, *, has_lunch: bool) -> dict[float, int]:
    """A prize for each tier: more than all that can be won below it."""
    prizes: dict[float, int] = {}
    below = (_drive_weight(horizon) + 1) * horizon
    tiers = [float(priority) for priority in Priority] + [_LUNCH_TIER] * has_lunch + [float(LOCKED_TIER)]
    for tier in tiers:
        prizes[tier] = below + 1
        lengths = [stop.seconds for stop in request.stops if stop.tier == tier]
        below += prizes[tier] * (1 if tier == _LUNCH_TIER else _most_in(lengths, horizon))
    return prizes


def _most_in(lengths: list[int], horizon: int) -> int:
    """How many stays of these lengths can fit one after the other in a day."""
    most, used = 0, 0
    for seconds in sorted(lengths):
        used += seconds
        if used - seconds > horizon:
            break
        most += 1
    return most
