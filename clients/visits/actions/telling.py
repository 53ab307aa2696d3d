from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from clients.visits.messages import Message
from clients.visits.models import Told


@audit.action
def mark_told(*, message: Message, what: Told.What, at: datetime, by: User) -> None:
    """The person was told about these visits, by whatever app sent it."""
    Told.objects.bulk_create(
        Told(visit=visit, person=message.person, what=what, day=visit.day, told_at=at, told_by=by)
        for visit in message.visits
    )
    changes = {"person": message.person.pk, "what": what, "visits": [visit.pk for visit in message.visits]}
    audit.record("told", message.visits[0], at=at, by=by, changes=changes)
