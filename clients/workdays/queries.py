from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.ui.words import day as day_words
from clients.plans.holiday_calendars import holidays_in, read_calendar
from clients.workdays.models import Absence, WorkingHours


@dataclass(frozen=True, slots=True)
class Hours:
    opens: time
    closes: time


class Workdays:
    """Who works when over a stretch of days, read in two queries however many people and days there are."""

    def __init__(self, business: Business, people: Iterable[User], first: date, last: date) -> None:
        people = list(people)
        self._usual = Hours(business.day_start, business.day_end)
        self._own: dict[int, dict[int, Hours]] = {}
        for row in WorkingHours.objects.filter(practitioner__in=people):
            self._own.setdefault(row.practitioner_id, {})[row.weekday] = Hours(row.opens, row.closes)
        self._away = list(absences_between(first, last).filter(Q(practitioner__in=people) | Q(practitioner=None)))

    def hours(self, practitioner: User, day: date) -> Hours | None:
        """The hours of that day, or None where nobody is to be counted on."""
        own = self._own.get(practitioner.pk)
        hours = self._usual if own is None else own.get(day.weekday())
        return None if self.absence(practitioner, day) else hours

    def absence(self, practitioner: User, day: date) -> Absence | None:
        there = (each for each in self._away if each.since <= day <= each.until)
        return next((each for each in there if each.practitioner_id in (None, practitioner.pk)), None)

    def why_away(self, practitioner: User, day: date) -> str:
        """A sentence when the practitioner does not work that day, else nothing. Illness is not named."""
        absence = self.absence(practitioner, day)
        if absence is not None and absence.practitioner_id is None:
            return f"The business is closed on {day_words(day)}."
        if absence is not None:
            return f"{practitioner} is away on {day_words(day)}."
        return "" if self.hours(practitioner, day) else f"{practitioner} does not work on {day:%A}s."


def workdays_of(practitioner: User, day: date) -> Workdays:
    return Workdays(the_business(), [practitioner], day, day)


def absences_between(first: date, last: date) -> QuerySet[Absence]:
    return Absence.objects.filter(since__lte=last, until__gte=first).select_related("practitioner")


def closed_days(first: date, last: date) -> set[date]:
    """The days of the span on which the whole business is closed."""
    spans = absences_between(first, last).filter(practitioner=None).values_list("since", "until")
    return {
        date.fromordinal(number)
        for since, until in spans
        for number in range(max(since, first).toordinal(), min(until, last).toordinal() + 1)
    }


def holidays_ahead(calendar: str, on: date, days: int = 366) -> dict[date, str]:
    """The public holidays of a calendar entry from that day on, by date; raises NoCalendar for one not known."""
    code, last = read_calendar(calendar), on + timedelta(days=days)
    found = {**holidays_in(code, on.year), **holidays_in(code, last.year)}
    return {day: name for day, name in sorted(found.items()) if on <= day <= last}


def hours_of(people: Sequence[User]) -> dict[int, list[WorkingHours]]:
    """Practitioner → their weekdays; one query."""
    found: dict[int, list[WorkingHours]] = {person.pk: [] for person in people}
    for row in WorkingHours.objects.filter(practitioner__in=people):
        found[row.practitioner_id].append(row)
    return found


def may_change_days_of(user: User, practitioner: User | None) -> bool:
    """One's own by whoever changes care, everybody's by whoever changes settings."""
    return user.may(Power.CHANGE_SETTINGS) or (user.may(Power.CHANGE_CARE) and practitioner == user)


def get_absence_or_404(request: HttpRequest, pk: int) -> Absence:
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(Absence.objects.select_related("practitioner"), pk=pk)
