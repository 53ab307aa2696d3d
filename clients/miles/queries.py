from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby, pairwise

from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from clients.miles.models import Trip
from clients.people.models import Barn
from clients.rounds.roads import base_of, place_of, roads_of
from clients.visits.models import Visit
from clients.visits.queries import DONE

LOOKS_BACK = timedelta(days=92)


@dataclass(frozen=True, slots=True)
class Driven:
    """A day of work that was driven: from the base to each barn in the order of the work, and back."""

    day: date
    driver: User
    barns: tuple[Barn, ...]
    horses: int


def trips() -> QuerySet[Trip]:
    """What counts now: no row that another one replaced."""
    return Trip.objects.filter(replaced_by__isnull=True).select_related("driver", "replaces")


def trips_for(user: User) -> QuerySet[Trip]:
    """Everybody's for whoever reads money, else one's own."""
    return trips() if user.may(Power.SEE_MONEY) else trips().filter(driver=user)


def driven_not_logged(on: date) -> list[Driven]:
    """Days before `on` with finished visits and no trip by itself yet, the oldest first; two queries."""
    first = on - LOOKS_BACK
    logged = set(Trip.objects.filter(is_from_round=True, day__gte=first).values_list("day", "driver"))
    done = Visit.objects.filter(status__in=DONE, day__gte=first, day__lt=on)
    rows = done.select_related("practitioner", "barn").order_by("day", "practitioner", "part", "starts", "pk")
    by_day: dict[tuple[date, int], list[Visit]] = defaultdict(list)
    for visit in rows:
        by_day[visit.day, visit.practitioner_id].append(visit)
    return [
        Driven(day, visits[0].practitioner, _barns(visits), len({visit.animal_id for visit in visits}))
        for (day, driver), visits in by_day.items()
        if (day, driver) not in logged
    ]


def _barns(visits: Sequence[Visit]) -> tuple[Barn, ...]:
    return tuple(next(group).barn for _, group in groupby(visits, key=lambda visit: visit.barn_id))


def metres_driven(driven: Driven, business: Business) -> tuple[int, Trip.Measure] | None:
    """The whole way in metres, and how it is known; None where the base or one of the barns is not on the map."""
    base = base_of(business, driven.driver)
    if base is None or not all(barn.is_placed for barn in driven.barns):
        return None
    way = [base, *map(place_of, driven.barns), base]
    table = roads_of(business).table(way)
    metres = sum(table.metres[here][there] for here, there in pairwise(range(len(way))))
    return metres, Trip.Measure(table.source)


def history_of(trip: Trip) -> list[Trip]:
    """The row as it is and as it was, newest first."""
    found, current = [trip], trip.replaces
    while current is not None:
        found.append(current)
        current = current.replaces
    return found


def get_trip_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Trip:
    """The door to a trip: one's own, or anybody's for whoever reads money."""
    demand(request, power)
    user: User = request.user  # type: ignore[assignment]
    return get_object_or_404(trips_for(user).select_related("driver", "written_by"), pk=pk)
