"""The order of a longer day, found by PyVRP and then put right to the second by our own timing.

PyVRP sees a little less than the rules: it knows the strict tiers as prizes far apart, and lunch as a longer
stay at one barn. So several models are solved, one for each kind of place lunch can be taken, and their
orders are judged by `Timing.rank` alone.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from clients.rounds.day_round import BASE, LOCKED_TIER, DayRequest, Isolation, Lunch, Priority, Span, Stop
from clients.rounds.polish import polished
from clients.rounds.timing import Course, Timing
from clients.rounds.vehicle_search import Effort, best_found

if TYPE_CHECKING:
    import pyvrp

# PyVRP weighs a broken window against prizes that are this large, and counts in 64 bits.
_MOST_PENALTY, _MOST_COST = 1e12, 1e18
_LONGEST_WEIGHED_DAY = 200_000
# Shared out among several a second of drive is worth a few of the day: with more, the search finds nothing to keep.
_SHARED_DRIVE_WEIGHT = 4
_LUNCH_TIER = LOCKED_TIER - 0.5


def searched_day(request: DayRequest, effort: Effort) -> Course:
    """The best day found; reproducible, near the best there is, not proven to be it."""
    timing = Timing.of(request)
    orders = [
        Drivers(variant.drive, variant.stops, (Driver(BASE, variant.day, lunch),)).orders(effort)[0]
        for variant, lunch in _lunch_variants(request)
    ]
    courses = [course for order in orders if (course := timing.best_of_order(order)) is not None]
    return min((polished(timing, course) for course in courses), key=timing.rank)


def _lunch_variants(request: DayRequest) -> Iterator[tuple[DayRequest, Lunch | None]]:
    """The day with room made for lunch at the base before or after it, and with lunch on the road.

    Each is a request without lunch for PyVRP, beside the lunch that may be taken at a barn.
    """
    day, lunch = request.day, request.lunch
    bare = replace(request, lunch=None, stops=with_the_day_as_window(request.stops, day))
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


def with_the_day_as_window(stops: Sequence[Stop], day: Span) -> tuple[Stop, ...]:
    return tuple(replace(stop, windows=stop.windows or (day,)) for stop in stops)


@dataclass(frozen=True, slots=True)
class Driver:
    """One who drives: from which place and back to it, when, and the lunch that may be had at a barn."""

    base: int
    day: Span
    lunch: Lunch | None = None


@dataclass
class Drivers:
    """One PyVRP model of a day: a vehicle for each driver, a group of alternatives for each stop.

    `drivers_of` says which drivers may make a stop, both by number; a stop that is missing is anybody's.
    """

    drive: Sequence[Sequence[int]]
    stops: Sequence[Stop]
    drivers: Sequence[Driver]
    drivers_of: Mapping[int, frozenset[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        import pyvrp

        self.model = pyvrp.Model()
        self.begins = min(driver.day.start for driver in self.drivers)
        self.day = Span(self.begins, max(driver.day.end for driver in self.drivers))
        self.horizon = max(0, self.day.end - self.begins)
        self.lunches = list(dict.fromkeys(driver.lunch for driver in self.drivers if driver.lunch is not None))
        self.drive_weight = _drive_weight(self.horizon) if len(self.drivers) == 1 else _SHARED_DRIVE_WEIGHT
        least = (self.drive_weight + 1) * self.horizon * len(self.drivers)
        self.prizes = _prizes(self.stops, self.horizon, least, len(self.drivers) if self.lunches else 0)
        self.stop_of_client: list[int] = []
        self._add_everything()

    def _add_everything(self) -> None:
        bases = list(dict.fromkeys(driver.base for driver in self.drivers))
        at_base = {base: self.model.add_location(0, 0) for base in bases}
        depots = {base: self.model.add_depot(location) for base, location in at_base.items()}
        at_stop = [self.model.add_location(0, 0) for _ in self.stops]
        for index, location in enumerate(at_stop):
            self._add_stop(index, location)
        self._add_drives([*at_base.items()], at_stop)
        for number, driver in enumerate(self.drivers):
            self._add_driver(number, driver, depots[driver.base])

    def _add_driver(self, number: int, driver: Driver, depot: "pyvrp.Depot") -> None:
        start = driver.day.start - self.begins
        self.model.add_vehicle_type(
            capacity=[int(driver.lunch == lunch) for lunch in self.lunches] + self._room_for_others_stops(number),
            start_depot=depot,
            end_depot=depot,
            tw_early=start,
            tw_late=max(start, driver.day.end - self.begins),
            start_late=start,
            unit_distance_cost=self.drive_weight,
            unit_duration_cost=1,
        )

    def _room_for_others_stops(self, number: int) -> list[int]:
        """A load for each driver that only stops which are not theirs have, and for which they have no room."""
        if not self.drivers_of:
            return []
        return [0 if other == number else len(self.stops) for other in range(len(self.drivers))]

    def _load(self, index: int, lunch: Lunch | None) -> list[int]:
        load = [int(lunch == each) for each in self.lunches]
        if self.drivers_of:
            everybody = frozenset(range(len(self.drivers)))
            theirs = self.drivers_of.get(index, everybody)
            load += [int(driver not in theirs) for driver in range(len(self.drivers))]
        return load

    def _add_stop(self, index: int, location: "pyvrp.Location") -> None:
        stays = list(self._stays(self.stops[index]))
        group = self.model.add_client_group(required=False) if stays else None
        for starts, seconds, lunch in stays:
            self.model.add_client(
                location,
                delivery=self._load(index, lunch),
                service_duration=seconds,
                tw_early=starts.start,
                tw_late=starts.end,
                prize=self.prizes[self.stops[index].tier] + (self.prizes[_LUNCH_TIER] if lunch else 0),
                required=False,
                group=group,
            )
            self.stop_of_client.append(index)

    def _stays(self, stop: Stop) -> Iterator[tuple[Span, int, Lunch | None]]:
        """When the stop may begin after the start of the day, how long it takes, and with which lunch."""
        for window in stop.start_windows(self.day):
            stays: list[tuple[Span, int, Lunch | None]] = [(window, stop.seconds, None)]
            for lunch in self.lunches:
                stays += [(*stay, lunch) for stay in _stays_with_lunch(window, stop.seconds, lunch)]
            for starts, seconds, had in stays:
                within = Span(max(0, starts.start - self.begins), min(self.horizon, starts.end - self.begins))
                if within.start <= within.end:
                    yield within, seconds, had

    def _add_drives(self, bases: list[tuple[int, "pyvrp.Location"]], at_stop: list["pyvrp.Location"]) -> None:
        grounds: list[tuple[pyvrp.Location, int, Isolation | None]]
        grounds = [(location, place, None) for place, location in bases]
        grounds += [(at, stop.place, stop.isolation) for at, stop in zip(at_stop, self.stops, strict=True)]
        never = 2 * self.horizon + 1
        for here, start, before in grounds:
            for there, end, after in grounds:
                if here is there:
                    continue
                is_cleaner = before is not None and after is not None and after < before
                drive = never if is_cleaner else min(never, self.drive[start][end])
                self.model.add_edge(here, there, distance=drive, duration=drive)

    def orders(self, effort: Effort) -> list[tuple[int, ...]]:
        """For each driver the order of their stops, as numbers; empty where nothing was found that keeps the rules."""
        found: list[tuple[int, ...]] = [() for _ in self.drivers]
        best = best_found(self.model, effort, max_penalty=self._penalty()) if self.stop_of_client else None
        for route in best.routes() if best is not None else ():
            found[route.vehicle_type()] = tuple(
                self.stop_of_client[activity.idx] for activity in route if activity.is_client()
            )
        return found

    def _penalty(self) -> float:
        """As high as can be without a cost beyond 64 bits were every stop as late as a stop can be."""
        latest = 4 * (self.horizon + 1) * (len(self.stops) + 1)
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


def _prizes(stops: Sequence[Stop], horizon: int, below: int, lunches: int) -> dict[float, int]:
    """A prize for each tier: more than all that can be won below it, of which drives and waiting are `below`."""
    prizes: dict[float, int] = {}
    tiers = [float(priority) for priority in Priority] + [_LUNCH_TIER] * bool(lunches) + [float(LOCKED_TIER)]
    for tier in tiers:
        prizes[tier] = below + 1
        lengths = [stop.seconds for stop in stops if stop.tier == tier]
        below += prizes[tier] * (lunches if tier == _LUNCH_TIER else _most_in(lengths, horizon))
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
