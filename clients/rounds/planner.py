"""Two to four weeks planned at once: which of its days each due visit takes, so that the driving is least.

One PyVRP model on an absolute line of time: a group of alternatives for each due visit (a client for each window of
each day that its cadence tolerates), a vehicle for each working day of each person. It decides the days only. Each day
is then ordered as a day of its own by `plan_day`, with lunch, isolation and promised times; what has no place there
loses that day, and the search is made again. What comes out is a proposal: nothing here moves a visit.

Days are numbers from 0, times whole seconds after local midnight, drives whole seconds, place 0 the base.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from clients.rounds.day_round import BASE, DayRequest, Isolation, Span, Stop
from clients.rounds.fortnight import (
    Due,
    FortnightPlan,
    Placed,
    PlanRequest,
    Reason,
    Shift,
    drive_of,
    standing_now,
)
from clients.rounds.fortnight_inspection import faults
from clients.rounds.loop import shortest_loop
from clients.rounds.solver import BrokenPlan, plan_day
from clients.rounds.vehicle_search import Effort, best_found

if TYPE_CHECKING:
    import pyvrp

DAY = 24 * 3600
ITERATIONS = 20_000
_ROUNDS_OF_REPAIR = 4
# Drive seconds that a choice is worth: a day where we are in the area anyway, staying where it stands, a day nearer to
# the cadence. A visit that is made is worth more than any drive, one whose day is fixed more than all others.
_AREA_DAY, _STAYS, _NEARER = 900, 300, 60
_MADE, _FIXED = 10**6, 10**8
_NEVER = 10 * DAY
_MOST_PENALTY = 1e8


def plan_days(
    request: PlanRequest, effort: Effort | None = None, *, start: Mapping[str, Placed] | None = None
) -> FortnightPlan:
    """The days that cost the least drive, every rule kept: each day was ordered by the day's own round.

    The search begins from the places of `start` where it is given; keys of other visits in it count for nothing.
    """
    plan = _searched(replace(request, dues=_kept_apart(request.dues)), effort or Effort(ITERATIONS), start)
    broken = faults(request, plan)
    if broken:
        raise BrokenPlan(" ".join(broken))
    return plan


def _searched(request: PlanRequest, effort: Effort, start: Mapping[str, Placed] | None) -> FortnightPlan:
    standing = standing_now(request)
    known = {due.key: standing[due.key] for due in request.dues if due.is_fixed}
    banned: set[tuple[str, int]] = set()
    rounds = 0
    while True:
        rounds += 1
        placed = {**_Search(request, banned).solve(effort, start), **known}
        failing = _without_place(request, placed)
        if not failing:
            break
        if rounds == _ROUNDS_OF_REPAIR or not effort.goes_on(effort.iterations):
            placed = {key: where for key, where in placed.items() if key not in failing}
            break
        banned |= {(key, placed[key].day) for key in failing}
    unplaced = {due.key: _reason(request, due) for due in request.dues if due.key not in placed}
    return FortnightPlan(
        placed=placed,
        unplaced=unplaced,
        drive_before=drive_of(request, standing),
        drive_after=drive_of(request, {**standing, **placed}),
        rounds=rounds,
    )


def _kept_apart(dues: Sequence[Due]) -> tuple[Due, ...]:
    """Where the tolerances of two visits of a horse meet, each keeps to its own half, so that they stay a day apart."""
    by_horse: dict[str, list[Due]] = defaultdict(list)
    for due in dues:
        by_horse[due.horse].append(due)
    allowed = {due.key: set(due.days) for due in dues}
    for visits in by_horse.values():
        visits.sort(key=lambda due: (due.around, due.key))
        for earlier, later in pairwise(visits):
            half = max(0, (later.around - earlier.around - 1) // 2)
            if not earlier.is_fixed:
                allowed[earlier.key] -= {day for day in earlier.days if day > earlier.around + half}
            if not later.is_fixed:
                allowed[later.key] -= {day for day in later.days if day < later.around - half}
    return tuple(replace(due, days=tuple(day for day in due.days if day in allowed[due.key])) for due in dues)


def _reason(request: PlanRequest, due: Due) -> Reason:
    working = [shift for shift in request.shifts if shift.day in due.days]
    working = [shift for shift in working if not due.persons or shift.person in due.persons]
    if not working:
        return Reason.NO_HOURS
    return Reason.NO_ROOM if any(request.starts(due, shift) for shift in working) else Reason.CLOSED


# The days, each by its own rules


def day_request(request: PlanRequest, shift: Shift, dues: Collection[Due]) -> tuple[DayRequest, dict[str, list[Due]]]:
    """The day of one person as the day's round takes it, and the visits behind each stop. A promised time is a stop."""
    groups: dict[tuple[int, Isolation, int | None, int], list[Due]] = defaultdict(list)
    for due in dues:
        groups[due.place, due.isolation, due.locked, due.not_before].append(due)
    stops, behind = [], {}
    for (place, isolation, locked, not_before), visits in groups.items():
        key = f"{place}/{isolation}/{locked}/{not_before}"
        behind[key] = visits
        stops.append(
            Stop(
                key=key,
                place=place,
                seconds=request.setup_seconds + sum(due.seconds for due in visits),
                windows=() if locked is not None else request.starts(visits[0], shift),
                locked=None if locked is None else max(0, locked - request.setup_seconds),
                isolation=isolation,
            )
        )
    return DayRequest(day=shift.span, drive=request.drive, stops=tuple(stops), lunch=request.lunch), behind


def _without_place(request: PlanRequest, placed: Mapping[str, Placed]) -> set[str]:
    """Keys of movable visits that their day's own round leaves out."""
    on_day: dict[Placed, list[Due]] = defaultdict(list)
    for due in request.dues:
        if due.key in placed:
            on_day[placed[due.key]].append(due)
    left: set[str] = set()
    for shift in request.shifts:
        dues = on_day.get(Placed(shift.day, shift.person), [])
        if dues:
            day, behind = day_request(request, shift, dues)
            left |= {due.key for stop in plan_day(day).unplaced for due in behind[stop.key] if not due.is_fixed}
    return left


# The search over days


class _Search:
    """One PyVRP model of all days. Places are told apart by who may come, since a vehicle's profile is its person."""

    def __init__(self, request: PlanRequest, banned: Collection[tuple[str, int]]) -> None:
        import pyvrp

        self.request, self.banned = request, banned
        self.model = pyvrp.Model()
        self.due_of_client: list[tuple[Due, int]] = []
        self.vehicles: list[Shift] = []
        self.depot_at = self.model.add_location(0, 0)
        self.depot = self.model.add_depot(self.depot_at)
        self.locations: dict[tuple[int, tuple[str, ...]], pyvrp.Location] = {}
        self._add_dues()
        self._add_people()

    def _add_dues(self) -> None:
        for due in self.request.dues:
            stays = list(self._stays(due))
            if not stays:
                continue
            where = (due.place, due.persons)
            if where not in self.locations:
                self.locations[where] = self.model.add_location(0, 0)
            group = self.model.add_client_group(required=False)
            for day, span, worth in stays:
                self.model.add_client(
                    self.locations[where],
                    service_duration=due.seconds,
                    tw_early=day * DAY + span.start,
                    tw_late=day * DAY + span.end,
                    prize=worth,
                    required=False,
                    group=group,
                )
                self.due_of_client.append((due, day))

    def _stays(self, due: Due) -> Iterator[tuple[int, Span, int]]:
        """Day, span and worth of each alternative; the spans of two people on one day are one."""
        seen: set[tuple[int, Span]] = set()
        for shift in self.request.shifts:
            if (due.key, shift.day) in self.banned:
                continue
            for span in self.request.starts(due, shift):
                if (shift.day, span) not in seen:
                    seen.add((shift.day, span))
                    yield shift.day, span, self._worth(due, shift.day)

    def _worth(self, due: Due, day: int) -> int:
        worth = _FIXED if due.is_fixed else _MADE
        worth += _AREA_DAY * ((due.place, day) in self.request.area_days) + _STAYS * (day == due.stands_on)
        return worth - _NEARER * abs(day - due.around)

    def _add_people(self) -> None:
        for person in dict.fromkeys(shift.person for shift in self.request.shifts):
            profile = self.model.add_profile(name=person)
            self._add_drives(person, profile)
            for shift in self.request.shifts:
                if shift.person == person:
                    self._add_shift(shift, profile)

    def _add_shift(self, shift: Shift, profile: "pyvrp.Profile") -> None:
        """Lunch is taken off the end of the day, but where a time is promised; the day's own round finds its place."""
        promised = any(due.locked is not None and shift.day in due.days for due in self.request.dues)
        lunch = self.request.lunch.seconds if self.request.lunch and not promised else 0
        self.model.add_vehicle_type(
            num_available=1,
            start_depot=self.depot,
            end_depot=self.depot,
            tw_early=shift.day * DAY + shift.span.start,
            tw_late=shift.day * DAY + max(shift.span.start, shift.span.end - lunch),
            unit_distance_cost=1,
            profile=profile,
            name=f"{shift.day}/{shift.person}",
        )
        self.vehicles.append(shift)

    def _add_drives(self, person: str, profile: "pyvrp.Profile") -> None:
        places = [
            (self.depot_at, BASE, True),
            *(
                (location, place, not persons or person in persons)
                for (place, persons), location in self.locations.items()
            ),
        ]
        for here, start, may_start in places:
            for there, end, may_end in places:
                if here is there:
                    continue
                drive = self.request.drive[start][end] if may_start and may_end else _NEVER
                setup = self.request.setup_seconds if end not in (BASE, start) else 0
                self.model.add_edge(here, there, distance=drive, duration=drive + setup, profile=profile)

    def solve(self, effort: Effort, start: Mapping[str, Placed] | None = None) -> dict[str, Placed]:
        if not self.due_of_client or not self.request.shifts:
            return {}
        best = best_found(self.model, effort, max_penalty=_MOST_PENALTY, start=self._begun(start) if start else None)
        if best is None:
            return {}
        placed = {}
        for route in best.routes():
            for activity in route:
                if activity.is_client():
                    due, day = self.due_of_client[activity.idx]
                    placed[due.key] = Placed(day, self.vehicles[route.vehicle_type()].person)
        return placed

    def _begun(self, start: Mapping[str, Placed]) -> "pyvrp.Solution":
        """The visits where `start` has them, each day in the order of its shortest loop; the search puts it right."""
        import pyvrp

        clients: dict[Placed, list[int]] = defaultdict(list)
        taken: set[str] = set()
        for client, (due, day) in enumerate(self.due_of_client):
            where = start.get(due.key)
            if where is not None and where.day == day and due.key not in taken:
                taken.add(due.key)
                clients[where].append(client)
        data = self.model.data()
        routes = []
        for number, shift in enumerate(self.vehicles):
            there = clients.get(Placed(shift.day, shift.person), [])
            loop = shortest_loop(self.request.drive, {self.due_of_client[client][0].place for client in there})
            order = sorted(there, key=lambda client: loop.index(self.due_of_client[client][0].place))
            if order:
                routes.append(pyvrp.Route(data, order, number))
        return pyvrp.Solution(data, routes)
