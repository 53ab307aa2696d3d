from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.animals.actions import today_of
from clients.animals.models import Animal
from clients.visits.models import CallLater


@audit.action
def call_later(*, animal: Animal, until: date, why: str = "", at: datetime, by: User) -> CallLater:
    """The horse leaves the call list and is on it again from that day."""
    if until <= today_of(at):
        raise Refused("Choose a day that is still ahead.")
    later, _ = CallLater.objects.update_or_create(animal=animal, defaults={"until": until, "why": why.strip()})
    audit.record("call put away", animal, at=at, by=by, changes={"until": until, "why": later.why})
    return later


@audit.action
def list_again(*, animal: Animal, at: datetime, by: User) -> None:
    CallLater.objects.filter(animal=animal).delete()
    audit.record("call listed again", animal, at=at, by=by)
