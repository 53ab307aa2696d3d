"""A spot leans on a full body not long before: which spots have none, by the practitioner's own threshold."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Q

from backoffice.business.queries import the_business
from clients.plans.cadence import Kind, PlannedSession, say_date
from clients.plans.coverage import days_of, part_spots
from clients.plans.models import Plan, Service
from clients.visits.models import EarlierWork, Visit

COUNTED = (Visit.Status.COMPLETED, Visit.Status.BOOKED, Visit.Status.PENCILLED)


def days_a_full_body_carries(plan: Plan | None) -> int:
    """By the plan's guideline; without one, by the business profile."""
    version = plan.guideline_version if plan else None
    return version.spot_needs_full_within if version else the_business().spot_needs_full_within


def why_spot_stands_alone(visit: Visit) -> str:
    """A sentence when no full body of the horse, done or ahead, is near enough before this spot; else empty."""
    if visit.service.kind != Service.Kind.SPOT:
        return ""
    within = days_a_full_body_carries(visit.plan)
    last = max(_full_days(visit.animal_id, until=visit.day), default=None)
    if last is not None and (visit.day - last).days <= within:
        return ""
    when = f"The last one is {say_date(last)}." if last else "None is on record."
    return f"A spot leans on a full body {_in_the_days(within)}. {when}"


def spots_alone_in(plan: Plan, sessions: Iterable[PlannedSession]) -> list[date]:
    """The days of the plan's spots that no full body carries, neither the plan's own nor another of the horse."""
    planned = tuple(sessions)
    spots = days_of(Kind.SPOT, planned)
    if not spots:
        return []
    full = sorted({*days_of(Kind.FULL, planned), *_full_days(plan.animal_id, until=plan.last_day)})
    return part_spots(sorted(spots), full, days_a_full_body_carries(plan))[1]


def say_spots_alone(plan: Plan, days: list[date]) -> str:
    """The warning of a plan, empty if each of its spots has a full body near."""
    if not days:
        return ""
    few = sorted(set(days))
    which = ", ".join(say_date(day) for day in few[:3]) + (f" and {len(few) - 3} more" if len(few) > 3 else "")
    return f"No full body {_in_the_days(days_a_full_body_carries(plan))} of these spots: {which}."


def _in_the_days(within: int) -> str:
    if not within:
        return "on the same day"
    return f"on the day or in the {'day' if within == 1 else f'{within} days'} before"


def _full_days(animal_pk: int, *, until: date) -> Iterable[date]:
    full = Q(animal=animal_pk, service__kind=Service.Kind.FULL, day__lte=until)
    days = Visit.objects.filter(full, status__in=COUNTED).values_list("day").order_by()
    before = EarlierWork.objects.filter(full).values_list("day").order_by()
    return [day for (day,) in days.union(before)]
