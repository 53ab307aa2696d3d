"""Warnings that stop nobody: said beside a visit."""

from datetime import timedelta

from clients.kit.queries import why_machine_is_not_free
from clients.plans.cadence import say_date
from clients.plans.models import Service
from clients.visits.models import Visit

SPOT_NEEDS_FULL_WITHIN = 3


def notes_of(visit: Visit) -> list[str]:
    """Everything worth saying beside an open visit, without the permission."""
    return [note for note in (spot_note(visit), machine_note(visit), barn_note(visit)) if note]


def machine_note(visit: Visit) -> str:
    if not visit.service.uses_machine:
        return ""
    if visit.machine is None:
        return "No machine is set aside yet."
    return why_machine_is_not_free(visit.machine, visit.day)


def barn_note(visit: Visit) -> str:
    if visit.barn_id == visit.animal.barn_id:
        return ""
    return f"{visit.animal} stands at {visit.animal.barn} now; this visit is set for {visit.barn}."


def spot_note(visit: Visit) -> str:
    """A spot leans on a full body not long before: a sentence when there is none, done or ahead; else empty."""
    if visit.service.kind != Service.Kind.SPOT:
        return ""
    version = visit.plan.guideline_version if visit.plan else None
    within = version.spot_needs_full_within if version else SPOT_NEEDS_FULL_WITHIN
    counted = [Visit.Status.COMPLETED, Visit.Status.BOOKED, Visit.Status.PENCILLED]
    last = (
        Visit.objects.filter(
            animal=visit.animal_id, service__kind=Service.Kind.FULL, status__in=counted, day__lte=visit.day
        )
        .order_by("-day")
        .first()
    )
    if last is not None and visit.day - last.day <= timedelta(days=within):
        return ""
    when = f"The last one is {say_date(last.day)}." if last else "None is on record."
    return f"A spot leans on a full body in the {within} days before. {when}"
