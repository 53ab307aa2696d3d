"""Some weeks of the diary as the planner takes them, with the visit behind each due one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from backoffice.access.models import User
from backoffice.business.models import Business
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.people.models import Barn
from clients.plans.models import Service
from clients.plans.queries import tolerance_of
from clients.rounds.day_round import Span
from clients.rounds.fortnight import Due, Placed, PlanRequest, Shift, length_by
from clients.rounds.queries import LEVELS, is_kept, lunch_of, seconds_of, spans_of
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.travel import TravelTable
from clients.visits.hours import windows_on
from clients.visits.models import Visit
from clients.visits.queries import OPEN, WEEKDAYS, area_days, visits
from clients.workdays.queries import Workdays


@dataclass(frozen=True, slots=True)
class Weeks:
    """`visits` by key, `at` the place of each barn; `astray` are those whose barn is not on the map."""

    first: date
    request: PlanRequest
    visits: Mapping[str, Visit]
    travel: TravelTable
    at: Mapping[int, int]
    astray: tuple[Visit, ...]

    def metres_of(self, placed: Mapping[str, Placed]) -> int:
        """The distance of all days, each by the loop with the least seconds."""
        return length_by(self.request, self.travel.metres, placed)


def weeks_of(first: date, days: int, people: Sequence[User], business: Business, *, also: Sequence[Barn] = ()) -> Weeks:
    """What is open in these days for these people. Booked visits keep their day; pencilled ones may move within the
    tolerance of their plan, and spots and visits without a plan stay where they are. `also` are barns on the map that
    take part without a visit. A fixed number of queries."""
    base = base_of(business)
    if base is None:
        raise Refused("Where does the day begin? Give the base its place under Settings, Business.")
    last = first + timedelta(days=days - 1)
    found = visits().filter(day__gte=first, day__lte=last, practitioner__in=people, status__in=OPEN)
    rows = list(found.prefetch_related("barn__windows"))
    placed = [visit for visit in rows if visit.barn.is_placed]
    barns = {visit.barn_id: visit.barn for visit in placed} | {barn.pk: barn for barn in also}
    at = {pk: number for number, pk in enumerate(barns, start=1)}
    travel = roads_of(business).table([base, *map(place_of, barns.values())])
    request = PlanRequest(
        drive=travel.seconds,
        dues=tuple(_due(visit, at[visit.barn_id], first, days, business) for visit in placed),
        shifts=tuple(_shifts(Workdays(business, people, first, last), people, first, days)),
        setup_seconds=60 * business.setup_minutes,
        lunch=lunch_of(business),
        windows={
            at[pk]: _windows(barn, first, days, business.zone)
            for pk, barn in barns.items()
            if barn.windows.all() or barn.outdoor_only
        },
        area_days=_areas(barns, at, first, days),
    )
    by_key = {str(visit.pk): visit for visit in placed}
    return Weeks(first, request, by_key, travel, at, tuple(visit for visit in rows if not visit.barn.is_placed))


def _due(visit: Visit, place: int, first: date, days: int, business: Business) -> Due:
    stands_on = (visit.day - first).days
    around = ((visit.planned_day or visit.day) - first).days
    tolerance = _tolerance(visit)
    is_fixed = tolerance == 0
    allowed = {stands_on} if is_fixed else {stands_on, *range(around - tolerance, around + tolerance + 1)}
    return Due(
        key=str(visit.pk),
        horse=str(visit.animal_id),
        place=place,
        seconds=60 * visit.minutes,
        around=stands_on if is_fixed else around,
        days=tuple(sorted(day for day in allowed if 0 <= day < days)),
        stands_on=stands_on,
        is_fixed=is_fixed,
        locked=seconds_of(visit.starts) if visit.starts is not None and is_kept(visit) else None,
        not_before=seconds_of(business.lunch_to) if visit.part == 2 else 0,
        isolation=LEVELS[Animal.Isolation(visit.animal.isolation_on(visit.day))],
        persons=(str(visit.practitioner_id),),
    )


def _tolerance(visit: Visit) -> int:
    is_free = visit.status == Visit.Status.PENCILLED and visit.service.kind != Service.Kind.SPOT
    return tolerance_of(visit.plan).days if visit.plan and is_free and visit.planned_day else 0


def _shifts(workdays: Workdays, people: Sequence[User], first: date, days: int) -> list[Shift]:
    shifts = []
    for number in range(days):
        for person in people:
            hours = workdays.hours(person, first + timedelta(days=number))
            if hours is not None:
                span = Span(seconds_of(hours.opens), seconds_of(hours.closes))
                shifts.append(Shift(number, str(person.pk), span))
    return shifts


def _windows(barn: Barn, first: date, days: int, zone: ZoneInfo) -> dict[int, tuple[Span, ...]]:
    found = {}
    for number in range(days):
        windows = windows_on(barn, first + timedelta(days=number), zone)
        if windows:
            found[number] = spans_of(windows)
    return found


def _areas(barns: Mapping[int, Barn], at: Mapping[int, int], first: date, days: int) -> frozenset[tuple[int, int]]:
    usual = area_days()
    weekdays = [WEEKDAYS[(first + timedelta(days=number)).weekday()] for number in range(days)]
    return frozenset(
        (at[pk], number)
        for pk, barn in barns.items()
        for number, weekday in enumerate(weekdays)
        if barn.area and barn.area in usual.get(weekday, ())
    )
