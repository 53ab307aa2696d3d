from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from django.db.models import Prefetch
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.refusal import Refused
from backoffice.ui.words import METERS_IN
from clients.animals.models import Animal
from clients.paperwork.permission import Permission
from clients.paperwork.queries import permission_for_each
from clients.people.models import Barn
from clients.rounds.day_round import DayRequest, Isolation, Lunch, Priority, Span, Stop
from clients.rounds.map_drawing import Drawing, Spot, draw
from clients.rounds.models import DayRound, FailedDay, FreedVisit, RoundStop
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.travel import TravelTable
from clients.visits.hours import Window, windows_on
from clients.visits.models import Visit
from clients.visits.queries import DONE, OPEN, practitioners, visits_on, work_of_visit
from clients.workdays.queries import Hours, workdays_of

LEVELS = {
    Animal.Isolation.CLEAN: Isolation.CLEAN,
    Animal.Isolation.EXPOSED: Isolation.EXPOSED,
    Animal.Isolation.INFECTED: Isolation.INFECTED,
}
BESIDE_A_STOP = ("animal__barn", "barn", "service", "machine", "plan__guideline_version")
AFTER_EVERY_DAY = Span(24 * 3600, 24 * 3600)


@dataclass(frozen=True, slots=True)
class StopToPlan:
    """The visits of one barn, one part of the day and one level of isolation, those with a promised time first."""

    barn: Barn
    isolation: str
    visits: tuple[Visit, ...]

    @property
    def key(self) -> str:
        return f"{self.barn.pk}-{self.visits[0].part}-{self.isolation}"

    @property
    def has_done(self) -> bool:
        return any(visit.status in DONE for visit in self.visits)

    def apart(self) -> tuple["StopToPlan | None", "StopToPlan | None"]:
        """What is done here, and what is still to do."""
        done = tuple(visit for visit in self.visits if visit.status in DONE)
        to_do = tuple(visit for visit in self.visits if visit.status not in DONE)
        return (replace(self, visits=done) if done else None, replace(self, visits=to_do) if to_do else None)


@dataclass(frozen=True, slots=True)
class DayToPlan:
    """A day as the solver takes it, with the rows behind each stop.

    `astray` are the stops without a place, `done` those that keep their own times beside the plan.
    """

    request: DayRequest
    stops: dict[str, StopToPlan]
    travel: TravelTable
    astray: tuple[StopToPlan, ...]
    done: tuple[StopToPlan, ...] = ()


def day_to_plan(
    day: date, practitioner: User, business: Business, *, beside: Collection[str] = frozenset()
) -> DayToPlan:
    """Everything the day's round is planned from. Refused while nobody has said where the day begins.

    What is done at the stops `beside`, or at one without a place on the map, is left as it was.
    """
    base = base_of(business, practitioner)
    if base is None:
        raise Refused("Where does the day begin? Give the base its place under Settings, Business.")
    workdays = workdays_of(practitioner, day)
    hours = workdays.hours(practitioner, day)
    if hours is None:
        raise Refused(f"{workdays.why_away(practitioner, day)} Move its visits, or change the days away.")
    done, found = _set_beside(stops_on(day, practitioner), beside)
    placed = [stop for stop in found if stop.barn.is_placed]
    barns = list({stop.barn.pk: stop.barn for stop in placed}.values())
    travel = roads_of(business).table([base, *map(place_of, barns)])
    at = {barn.pk: number for number, barn in enumerate(barns, start=1)}
    request = DayRequest(
        day=Span(seconds_of(hours.opens), seconds_of(hours.closes)),
        drive=travel.seconds,
        stops=tuple(as_stop(stop, at[stop.barn.pk], day, business, hours) for stop in placed),
        lunch=lunch_of(business),
    )
    astray = tuple(stop for stop in found if not stop.barn.is_placed)
    return DayToPlan(request, {stop.key: stop for stop in placed}, travel, astray, done)


def lunch_of(business: Business) -> Lunch | None:
    span = Span(seconds_of(business.lunch_from), seconds_of(business.lunch_to))
    return Lunch(60 * business.lunch_minutes, span) if business.lunch_minutes else None


def _set_beside(
    found: Sequence[StopToPlan], beside: Collection[str]
) -> tuple[tuple[StopToPlan, ...], tuple[StopToPlan, ...]]:
    halves = [stop.apart() if stop.key in beside or not stop.barn.is_placed else (None, stop) for stop in found]
    return tuple(done for done, _ in halves if done), tuple(to_do for _, to_do in halves if to_do)


def stops_on(day: date, practitioner: User) -> list[StopToPlan]:
    """The day's visits that were not called off, as stops; a barn with clean and isolated horses is two."""
    found = visits_on(day, practitioner).select_related(None).select_related(*BESIDE_A_STOP)
    return grouped(found.prefetch_related("barn__windows"), day)


def grouped(visits: Iterable[Visit], day: date) -> list[StopToPlan]:
    groups: dict[tuple[int, int, str], list[Visit]] = defaultdict(list)
    for visit in visits:
        groups[visit.part, visit.barn_id, visit.animal.isolation_on(day)].append(visit)
    return [
        StopToPlan(there[0].barn, isolation, tuple(sorted(there, key=_promised_first)))
        for (_part, _barn, isolation), there in groups.items()
    ]


def _promised_first(visit: Visit) -> tuple[bool, time, int]:
    return (not is_kept(visit), visit.starts or time.max, visit.pk)


def is_kept(visit: Visit) -> bool:
    """Its time is not moved by a plan: promised to the owner, locked by ourselves, or done already."""
    return visit.starts is not None and (visit.is_confirmed or visit.is_locked or visit.status in DONE)


def as_stop(stop: StopToPlan, place: int, day: date, business: Business, hours: Hours) -> Stop:
    first = stop.visits[0]
    booked = any(visit.status != Visit.Status.PENCILLED for visit in stop.visits)
    setup = 60 * business.setup_minutes
    return Stop(
        key=stop.key,
        place=place,
        seconds=setup + sum(60 * visit.minutes for visit in stop.visits),
        windows=_windows(stop, day, business, hours),
        locked=seconds_of(first.starts) - setup if first.starts is not None and is_kept(first) else None,
        isolation=LEVELS[Animal.Isolation(stop.isolation)],
        priority=Priority.NORMAL if booked else Priority.LOW,
    )


def _windows(stop: StopToPlan, day: date, business: Business, hours: Hours) -> tuple[Span, ...]:
    """The barn's windows; the second part of a day begins after the lunch span, here as in the diary."""
    minutes = business.setup_minutes + sum(visit.minutes for visit in stop.visits)
    windows = spans_of(windows_on(stop.barn, day, business.zone, minutes))
    if stop.visits[0].part == 1:
        return windows
    opens = seconds_of(business.lunch_to)
    whole_day = Span(opens, seconds_of(hours.closes))
    after = [Span(max(window.start, opens), window.end) for window in windows or (whole_day,) if window.end >= opens]
    return tuple(after) or (AFTER_EVERY_DAY,)


def spans_of(windows: Sequence[Window] | None) -> tuple[Span, ...]:
    """As the searches take them: none at all where the barn is open all day, one after every day where it never is."""
    if windows is None:
        return ()
    return tuple(Span(seconds_of(each.opens), seconds_of(each.closes)) for each in windows) or (AFTER_EVERY_DAY,)


def seconds_of(moment: time) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second


def time_of(seconds: int) -> time:
    """The clock time, to the minute, of seconds after midnight; a day's last minute for anything beyond."""
    minutes = min(max(seconds, 0) // 60, 24 * 60 - 1)
    return time(minutes // 60, minutes % 60)


def round_of(day: date, practitioner: User) -> DayRound | None:
    """The round as last planned, with its stops, barns and visits: a fixed number of queries."""
    visits = Visit.objects.select_related(
        "animal__vet_practice", "service", "machine", "plan__guideline_version"
    ).order_by("starts", "pk")
    stops = RoundStop.objects.select_related("barn__contact").prefetch_related(
        "barn__windows", Prefetch("visits", queryset=visits)
    )
    rounds = DayRound.objects.select_related("practitioner", "sheet").prefetch_related(
        Prefetch("stops", queryset=stops)
    )
    return rounds.filter(day=day, practitioner=practitioner).first()


@dataclass(frozen=True, slots=True)
class SideBySide:
    """One practitioner's day beside the others': the planned round, or the stops that wait for one."""

    practitioner: User
    round: DayRound | None
    waiting: tuple[StopToPlan, ...]


def rounds_of_all(day: date) -> list[SideBySide]:
    """Everybody who drives that day or might; a fixed number of queries."""
    stops = RoundStop.objects.select_related("barn").prefetch_related(
        Prefetch("visits", queryset=Visit.objects.select_related("animal", "service").order_by("starts", "pk"))
    )
    planned = DayRound.objects.filter(day=day).prefetch_related(Prefetch("stops", queryset=stops))
    rounds = {each.practitioner_id: each for each in planned}
    waiting: dict[int, list[Visit]] = defaultdict(list)
    for visit in visits_on(day):
        if visit.practitioner_id not in rounds:
            waiting[visit.practitioner_id].append(visit)
    return [
        SideBySide(person, rounds.get(person.pk), tuple(grouped(waiting[person.pk], day))) for person in practitioners()
    ]


def is_out_of_date(day_round: DayRound) -> bool:
    """Whether the day's visits are others than those the round was planned with."""
    planned = {visit.pk for stop in day_round.stops.all() for visit in stop.visits.all()}
    planned |= {pk for row in day_round.unplaced for pk in row["visits"]}
    current = visits_on(day_round.day, day_round.practitioner)
    return planned != set(current.values_list("pk", flat=True))


def unplaced_of(day_round: DayRound) -> list[dict[str, object]]:
    """What does not fit, with the visits themselves, those that are still there."""
    found = Visit.objects.select_related("animal").in_bulk([pk for row in day_round.unplaced for pk in row["visits"]])
    return [{**row, "visits": [found[pk] for pk in row["visits"] if pk in found]} for row in day_round.unplaced]


def key_of(stop: RoundStop) -> str:
    """The key under which the stop is planned again, as `StopToPlan.key`."""
    visit = next(iter(stop.visits.all()))
    return f"{stop.barn_id}-{visit.part}-{stop.isolation}"


def map_of(day_round: DayRound, business: Business) -> Drawing | None:
    """The planned stops as a drawing; None where the base or every stop has no place on the map."""
    stops = [
        Spot(stop.barn.name, stop.barn.lat, stop.barn.lon, number)
        for number, stop in enumerate(day_round.stops.all(), start=1)
        if stop.barn.lat is not None and stop.barn.lon is not None
    ]
    base = base_of(business, day_round.practitioner)
    if base is None or not stops:
        return None
    unit = business.distance_unit
    return draw(Spot("Base", base.latitude, base.longitude), stops, unit_metres=float(METERS_IN[unit]), unit=unit)


def failed_days(day: date, practitioner: User) -> list[FailedDay]:
    return list(FailedDay.objects.filter(day=day, practitioner=practitioner))


def has_open_visits(day: date, practitioner: User) -> bool:
    return visits_on(day, practitioner).filter(status__in=OPEN, arrival__isnull=True).exists()


def freed_visits(failed: FailedDay) -> list[FreedVisit]:
    return list(failed.freed.select_related("visit__animal", "visit__barn", "visit__service"))


def permissions_of(visits: Sequence[Visit], day: date) -> dict[int, Permission]:
    """Visit → permission to work on that day, each with its own service; a fixed number of queries."""
    works = [(visit.animal, work_of_visit(visit)) for visit in visits]
    return dict(zip((visit.pk for visit in visits), permission_for_each(works, on=day), strict=True))


def get_practitioner_or_404(request: HttpRequest, pk: int) -> User:
    demand(request, Power.SEE_CARE)
    return get_object_or_404(User, pk=pk, drives_rounds=True)


def all_visits(day_round: DayRound) -> list[Visit]:
    return [visit for stop in day_round.stops.all() for visit in stop.visits.all()]


def days_around(day: date) -> tuple[date, date]:
    return day - timedelta(days=1), day + timedelta(days=1)
