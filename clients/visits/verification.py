from collections.abc import Iterator

from django.db.models import F, Q

from clients.paperwork.models import Decision
from clients.visits.models import Visit

BOOKED = ~Q(status__in=[Visit.Status.PENCILLED, Visit.Status.CANCELLED])


def count_looked_at() -> str:
    return f"{Visit.objects.filter(BOOKED).count()} visits booked or done"


def faults_of_decisions() -> Iterator[str]:
    """Visits booked or done without the stored decision that allowed it, or with one about another horse."""
    for visit in Visit.objects.filter(BOOKED, booking_decision__isnull=True).order_by("pk"):
        yield f"visit {visit.pk} of {visit.day} has no permission decision."
    for visit in Visit.objects.filter(status=Visit.Status.COMPLETED, start_decision__isnull=True).order_by("pk"):
        yield f"visit {visit.pk} of {visit.day} was started without a permission decision."
    for name in ("booking_decision", "start_decision"):
        strangers = Visit.objects.filter(BOOKED, **{f"{name}__isnull": False}).exclude(
            **{f"{name}__animal": F("animal")}
        )
        for visit in strangers.order_by("pk"):
            yield f"visit {visit.pk} of {visit.day} rests on a decision about another horse."
    held = Q(booking_decision__result=Decision.Result.HOLD)
    for visit in Visit.objects.filter(BOOKED).filter(held).order_by("pk"):
        yield f"visit {visit.pk} of {visit.day} was booked on hold."
