from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from backoffice.ui.words import day as say_day
from clients.kit.models import Fault, Hire, HourReading, Inspection, Machine
from clients.kit.queries import latest_inspections


@audit.action
def take_back(
    *,
    hire: Hire,
    on: date,
    condition: str = "",
    missing: str = "",
    hours: Decimal | None = None,
    at: datetime,
    by: User | None,
) -> Hire:
    """The machine is here again, with how it looks, what is missing and what its hour meter says."""
    hire = Hire.objects.select_for_update().get(pk=hire.pk)
    if hire.returned_on is not None:
        raise Refused("This machine is back already.")
    if on < hire.since:
        raise Refused("The machine cannot come back before the hire begins.")
    if hours is not None:
        note_hours(machine=hire.machine, hours=hours, at=at, by=by)
    hire.returned_on, hire.condition_back, hire.missing_back = on, condition.strip(), missing.strip()
    hire.save(update_fields=["returned_on", "condition_back", "missing_back"])
    changes = {"machine": hire.machine_id, "on": on, "late": hire.days_late, "missing": bool(hire.missing_back)}
    audit.record("machine taken back", hire, at=at, by=by, changes=changes)
    return hire


@audit.action
def note_hours(*, machine: Machine, hours: Decimal, at: datetime, by: User | None) -> HourReading:
    """An hour meter only goes up."""
    before = machine.readings.first()
    if before is not None and hours < before.hours:
        raise Refused(f"The meter said {before.hours:f} hours on {say_day(before.read_on)}. Read it again.")
    reading = HourReading.objects.create(machine=machine, read_on=local_date(at), hours=hours)
    audit.record("hours read", reading, at=at, by=by, changes={"machine": machine.pk, "hours": hours})
    return reading


@audit.action
def note_inspection(*, inspection: Inspection, at: datetime, by: User) -> Inspection:
    """The machine was looked over. Its next inspection is the earliest that any kind asks for."""
    machine = Machine.objects.select_for_update().get(pk=inspection.machine_id)
    if inspection.done_on > local_date(at):
        raise Refused("Write an inspection down when it is done, not before.")
    if inspection.due_on <= inspection.done_on:
        raise Refused("The next one is due after this one.")
    inspection.save(force_insert=True)
    machine.inspection_due = latest_inspections(machine)[0].due_on
    machine.save(update_fields=["inspection_due"])
    changes = {"machine": machine.pk, "kind": inspection.kind, "due": inspection.due_on}
    audit.record("machine inspected", inspection, at=at, by=by, changes=changes)
    return inspection


@audit.action
def report_fault(*, machine: Machine, seen: str, takes_out_of_use: bool, at: datetime, by: User) -> Fault:
    """Whoever works with a machine says what is wrong with it. What is booked with it stays, to be looked at."""
    if not seen.strip():
        raise Refused("Write what is wrong.")
    fault = Fault.objects.create(
        machine=machine,
        seen=seen.strip().rstrip("."),
        takes_out_of_use=takes_out_of_use,
        reported_on=local_date(at),
        reported_by=by,
    )
    audit.record("fault reported", fault, at=at, by=by, changes={"machine": machine.pk, "out": takes_out_of_use})
    return fault


@audit.action
def put_fault_right(*, fault: Fault, how: str, at: datetime, by: User) -> Fault:
    """The owner-manager writes how it was put right; from then on the machine may be used again."""
    if not by.may(Power.CHANGE_SETTINGS):
        raise Refused("Only the owner-manager puts a machine back into use.")
    fault = Fault.objects.select_for_update().get(pk=fault.pk)
    if fault.put_right_on is not None:
        raise Refused("This was put right already.")
    if not how.strip():
        raise Refused("Write how it was put right, and by whom.")
    fault.put_right, fault.put_right_on = how.strip(), local_date(at)
    fault.save(update_fields=["put_right", "put_right_on"])
    audit.record("fault put right", fault, at=at, by=by, changes={"machine": fault.machine_id})
    return fault
