from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet

from backoffice.access.models import User
from billing.invoices.queries import owed_invoices
from billing.quotes.models import Quote
from clients.animals.models import Animal
from clients.barnside.models import BarnEvent, HandMoney
from clients.paperwork.permission import Permission
from clients.paperwork.queries import permission_each_day
from clients.plans.models import Plan
from clients.plans.queries import plans
from clients.visits.models import Visit
from clients.visits.queries import OPEN, practitioners, visits_on, work_of_visit

VISIT_LINE = ("day", "part", "starts", "status", "is_confirmed", "call_list_reason", "animal__name", "barn__name")
MONEY_LINE = ("amount", "method", "taken_at", "person__name", "visit__animal__name", "visit__barn__name")
PLAN_LINE = ("title", "start", "review_on", "animal__name")


def whose_round(user: User) -> User | None:
    """The signed-in person if they drive rounds, else the first who does."""
    return user if user.drives_rounds else practitioners().first()


def others_out(day: date, practitioner: User | None) -> list[User]:
    """Who else has visits on the day."""
    busy = visits_on(day).order_by().values("practitioner")
    others = practitioners().filter(pk__in=busy)
    return list(others.exclude(pk=practitioner.pk) if practitioner else others)


def next_day_with_visits(day: date, practitioner: User) -> date | None:
    coming = Visit.objects.filter(practitioner=practitioner, status__in=OPEN, day__gt=day)
    return coming.order_by("day").values_list("day", flat=True).first()


@dataclass(frozen=True, slots=True)
class Outlook:
    """The visits ahead of some days, the earliest first, and permission to work on its own day for each visit."""

    coming: Sequence[Visit]
    permissions: Mapping[int, Permission]


def outlook(on: date, days: int, also: Sequence[Visit] = ()) -> Outlook:
    """For the days from `on`; permission is given for the visits `also` too, such as those of the round shown."""
    coming = list(
        Visit.objects.filter(status__in=OPEN, day__gte=on, day__lt=on + timedelta(days=days))
        .select_related("animal", "service", "plan__guideline_version")
        .order_by("day", "starts", "pk")
    )
    visits = {visit.pk: visit for visit in [*coming, *also]}
    works = [(visit.animal, work_of_visit(visit), visit.day) for visit in visits.values()]
    return Outlook(coming, dict(zip(visits, permission_each_day(works), strict=True)))


def lean(rows: QuerySet[Visit]) -> QuerySet[Visit]:
    """The same visits with the names of horse and barn only, for pages that show many of them in a line each."""
    found = rows.select_related(None).select_related("animal", "barn")
    return found.only(*VISIT_LINE)


def lean_money(rows: QuerySet[HandMoney]) -> QuerySet[HandMoney]:
    return rows.select_related(None).select_related("person", "visit__animal", "visit__barn").only(*MONEY_LINE)


def lean_entries(rows: QuerySet[BarnEvent]) -> QuerySet[BarnEvent]:
    return rows.select_related(None).select_related("visit__animal").only("why", "visit__day", "visit__animal__name")


def lean_plans(rows: QuerySet[Plan]) -> QuerySet[Plan]:
    return rows.select_related(None).prefetch_related(None).select_related("animal").only(*PLAN_LINE)


def plans_proposed() -> QuerySet[Plan]:
    proposed = plans().filter(state=Plan.State.PROPOSED, animal__died_on__isnull=True)
    return lean_plans(proposed).order_by("start", "pk")


def rule_books_unread(on: date, days: int) -> QuerySet[Animal]:
    coming = Animal.objects.filter(event_on__gte=on, event_on__lte=on + timedelta(days=days), died_on__isnull=True)
    return coming.filter(rules_read=False).order_by("event_on", "name", "pk")


def overdue_invoices(on: date) -> QuerySet[Any]:
    """Issued, not fully paid, and past their day; the oldest first."""
    return owed_invoices().filter(due_on__lt=on)


def quotes_waiting(on: date) -> list[Quote]:
    """Offered and still answerable, the one that ends first at the top."""
    waiting = Quote.objects.filter(state=Quote.State.OFFERED, expires_on__gte=on).select_related("person")
    waiting = waiting.exclude(horses__animal__died_on__isnull=False)
    return list(waiting.order_by("expires_on", "pk"))
