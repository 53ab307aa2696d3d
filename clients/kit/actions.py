from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.kit.models import Hire


@audit.action
def take_back(*, hire: Hire, on: date, at: datetime, by: User | None) -> Hire:
    hire = Hire.objects.select_for_update().get(pk=hire.pk)
    if hire.returned_on is not None:
        raise Refused("This machine is back already.")
    if on < hire.since:
        raise Refused("The machine cannot come back before the hire begins.")
    hire.returned_on = on
    hire.save(update_fields=["returned_on"])
    audit.record("machine taken back", hire, at=at, by=by, changes={"machine": hire.machine_id, "on": on})
    return hire
