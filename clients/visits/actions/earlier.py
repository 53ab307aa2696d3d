from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.plans.models import Service
from clients.visits.models import EarlierWork


@audit.action
def note_earlier_work(
    *, animal: Animal, service: Service, day: date, minutes: int | None = None, note: str = "", at: datetime, by: User
) -> EarlierWork:
    """What was done before these records: a spot may lean on it, the horse's history tells it."""
    if day >= local_date(at):
        raise Refused("Work of today or later has a visit of its own.")
    if EarlierWork.objects.filter(animal=animal, service=service, day=day).exists():
        raise Refused(f"{service} of {animal} on {day:%-d %b %Y} is noted already.")
    work = EarlierWork.objects.create(animal=animal, service=service, day=day, minutes=minutes, note=note.strip())
    changes = {"animal": animal.pk, "service": service.pk, "day": day}
    audit.record("earlier work noted", work, at=at, by=by, changes=changes)
    return work


@audit.action
def strike_earlier_work(*, work: EarlierWork, at: datetime, by: User) -> None:
    """It was noted by mistake."""
    changes = {"animal": work.animal_id, "service": work.service_id, "day": work.day}
    audit.record("earlier work struck out", work, at=at, by=by, changes=changes)
    work.delete()
