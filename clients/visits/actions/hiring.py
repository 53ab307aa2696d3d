from datetime import date, datetime

from django.db.models import Q

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from clients.kit.models import Hire, Machine
from clients.kit.queries import machines, why_machine_is_not_free
from clients.people.models import Person
from clients.plans.cadence import say_date
from clients.visits.models import Visit

LONGEST_HIRE_DAYS = 366


@audit.action
def hire_out(*, machine: Machine, person: Person, since: date, until: date, at: datetime, by: User | None) -> Hire:
    """A machine promised to one person from a day to a day: no other hire and no booked visit may have it then."""
    machine = Machine.objects.select_for_update().get(pk=machine.pk)
    if not machine.is_in_use:
        raise Refused(f"{machine} is out of use.")
    if until < since:
        raise Refused("The last day of the hire is before its first.")
    if (until - since).days > LONGEST_HIRE_DAYS:
        raise Refused(f"A hire lasts at most {LONGEST_HIRE_DAYS} days.")
    if machine.inspection_due is not None and machine.inspection_due < until:
        raise Refused(f"The inspection of {machine} falls due before the hire ends.")
    reason = why_machine_is_not_free(machines().get(pk=machine.pk), since, today=local_date(at))
    if reason:
        raise Refused(reason)
    _refuse_promised(machine, since, until)
    hire = Hire.objects.create(machine=machine, person=person, since=since, until=until)
    audit.record("machine hired out", hire, at=at, by=by, changes={"machine": machine, "since": since, "until": until})
    return hire


def _refuse_promised(machine: Machine, since: date, until: date) -> None:
    still_out = Q(returned_on__isnull=True) | Q(returned_on__gte=since)
    other = machine.hires.filter(still_out, since__lte=until, until__gte=since).select_related("person").first()
    if other is not None:
        raise Refused(
            f"{machine} is on hire to {other.person} from {say_date(other.since)} to {say_date(other.until)}."
        )
    booked = machine.visits.filter(status=Visit.Status.BOOKED, day__gte=since, day__lte=until)
    visit = booked.select_related("animal", "barn").first()
    if visit is not None:
        raise Refused(f"{machine} is booked for {visit.animal} at {visit.barn} on {say_date(visit.day)}.")
