"""What a barn adds to the drive of each day on which a visit could stand, by the shortest loop of the day's barns."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from backoffice.access.models import User
from backoffice.business.models import Business
from clients.people.models import Barn
from clients.rounds.loop import length_of, shortest_loop
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.travel import TravelTable
from clients.visits.models import Visit
from clients.visits.queries import WEEKDAYS, area_days
from clients.workdays.queries import Hours, Workdays


@dataclass(frozen=True, slots=True)
class Drive:
    """Seconds and metres; below zero for what is saved."""

    seconds: int = 0
    metres: int = 0

    def __sub__(self, other: "Drive") -> "Drive":
        return Drive(self.seconds - other.seconds, self.metres - other.metres)

    @property
    def minutes(self) -> int:
        return round(self.seconds / 60)


@dataclass(frozen=True, slots=True)
class DayChoice:
    """One day on which the visit could stand. `extra` is None where the base or the barn has no place on the map."""

    day: date
    visits: int
    work_minutes: int
    extra: Drive | None
    is_area_day: bool
    is_there_anyway: bool
    is_closed: bool
    hours: Hours | None

    @property
    def is_possible(self) -> bool:
        """Whether the practitioner works and the barn is open."""
        return self.hours is not None and not self.is_closed

    @property
    def rank(self) -> tuple[bool, bool, int, date]:
        """Possible before not; where we are in the area before others; then the least extra drive, then the earlier."""
        nears = self.is_area_day or self.is_there_anyway
        return (not self.is_possible, not nears, self.extra.seconds if self.extra else 0, self.day)


def days_for(
    *, business: Business, practitioner: User, barn: Barn, days: Sequence[date], without: Visit | None = None
) -> list[DayChoice]:
    """Each of `days` with what a visit at the barn would add to it, as if the visit `without` were not there.

    A fixed number of queries, however many days.
    """
    standing = Visit.objects.filter(practitioner=practitioner, day__in=days).select_related("barn")
    standing = standing.exclude(status=Visit.Status.CANCELLED)
    if without is not None:
        standing = standing.exclude(pk=without.pk)
    by_day: dict[date, list[Visit]] = defaultdict(list)
    for visit in standing:
        by_day[visit.day].append(visit)
    barns = {each.pk: each for each in (barn, *(visit.barn for visits in by_day.values() for visit in visits))}
    roads = _Roads.between(business, practitioner, [each for each in barns.values() if each.is_placed])
    areas, windows = area_days(), list(barn.windows.all())
    workdays = Workdays(business, [practitioner], min(days, default=date.min), max(days, default=date.min))
    return [
        DayChoice(
            day=day,
            visits=len(by_day[day]),
            work_minutes=sum(visit.minutes for visit in by_day[day]),
            extra=roads.added(barn.pk, {visit.barn_id for visit in by_day[day]}) if roads else None,
            is_area_day=barn.area != "" and barn.area in areas.get(WEEKDAYS[day.weekday()], ()),
            is_there_anyway=any(visit.barn_id == barn.pk for visit in by_day[day]),
            is_closed=bool(windows) and not any(window.holds_on(day) for window in windows),
            hours=workdays.hours(practitioner, day),
        )
        for day in days
    ]


@dataclass(frozen=True, slots=True)
class _Roads:
    """The drives between the base and some barns; `at` is the number of each barn in the table."""

    at: dict[int, int]
    travel: TravelTable

    @classmethod
    def between(cls, business: Business, practitioner: User, barns: Sequence[Barn]) -> "_Roads | None":
        base = base_of(business, practitioner)
        if base is None:
            return None
        travel = roads_of(business).table([base, *map(place_of, barns)])
        return cls({barn.pk: number for number, barn in enumerate(barns, start=1)}, travel)

    def added(self, barn: int, others: Collection[int]) -> Drive | None:
        if barn not in self.at:
            return None
        there = {self.at[each] for each in others if each in self.at}
        return self._loop(there | {self.at[barn]}) - self._loop(there)

    def _loop(self, places: Collection[int]) -> Drive:
        order = shortest_loop(self.travel.seconds, places)
        return Drive(length_of(self.travel.seconds, order), length_of(self.travel.metres, order))
