from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from clients.kit.models import Applicator, Fault, Hire, Inspection, Machine


def machines() -> QuerySet[Machine]:
    """All machines with the hires that are still out or to come, and the faults that are not put right."""
    return Machine.objects.prefetch_related(
        Prefetch("hires", Hire.objects.filter(returned_on__isnull=True).select_related("person").order_by("since")),
        Prefetch("faults", Fault.objects.filter(put_right_on__isnull=True)),
    )


def machines_in_use() -> QuerySet[Machine]:
    return machines().filter(is_in_use=True)


def applicators_in_use() -> QuerySet[Applicator]:
    return Applicator.objects.filter(is_in_use=True)


def hires_of(machine: Machine) -> QuerySet[Hire]:
    """All of them, also those that are over, which rows of `machines()` do not carry."""
    return Hire.objects.filter(machine=machine).select_related("person", "handover").order_by("-since")


def machines_due(on: date) -> QuerySet[Machine]:
    """Machines in use whose inspection is due on or before the day."""
    return Machine.objects.filter(is_in_use=True, inspection_due__lte=on).order_by("inspection_due")


def hires_due_back(on: date) -> QuerySet[Hire]:
    return Hire.objects.filter(returned_on__isnull=True, until__lte=on).select_related("machine", "person")


def why_machine_is_not_free(machine: Machine, day: date, *, today: date | None = None) -> str:
    """The reason in words that the machine cannot work on the day; empty when it can.

    Reads `machine.hires` and `machine.faults`; rows of `machines()` carry the open ones. With `today` a machine that is
    late is not counted on for any day until it is taken back.
    """
    why = why_machine_stays_in(machine, day)
    if why:
        return why
    late = next((hire for hire in machine.hires.all() if today and is_late(hire, today)), None)
    if late is not None:
        return f"{machine} was due back from {late.person} on {_words(late.until)} and is not back yet."
    hire = next((hire for hire in machine.hires.all() if _is_out(hire, day)), None)
    return f"{machine} is on hire to {hire.person} until {_words(hire.until)}." if hire else ""


def why_machine_stays_in(machine: Machine, day: date) -> str:
    """The reason in words that nobody may work with it on the day, wherever it is; empty when somebody may."""
    if not machine.is_in_use:
        return f"{machine} is out of use."
    if machine.inspection_due is not None and machine.inspection_due < day:
        return f"The inspection of {machine} was due on {_words(machine.inspection_due)}."
    fault = next((fault for fault in machine.faults.all() if fault.takes_out_of_use and not fault.put_right_on), None)
    return "" if fault is None else f"{machine} is out of use until this is put right: {fault.seen}."


def is_late(hire: Hire, today: date) -> bool:
    """Due back before today, and not back."""
    return hire.returned_on is None and hire.until < today


def is_on_hire(machine: Machine, day: date) -> bool:
    return any(_is_out(hire, day) for hire in machine.hires.all())


def machine_is_free(machine: Machine, day: date) -> bool:
    return not why_machine_is_not_free(machine, day)


def free_machines(rows: Iterable[Machine], day: date) -> list[Machine]:
    return [machine for machine in rows if machine_is_free(machine, day)]


def latest_inspections(machine: Machine) -> list[Inspection]:
    """The newest of each kind, in the order in which they fall due."""
    newest: dict[str, Inspection] = {}
    for inspection in machine.inspections.all():
        newest.setdefault(inspection.kind, inspection)
    return sorted(newest.values(), key=lambda inspection: inspection.due_on)


@dataclass(frozen=True, slots=True)
class DayOut:
    """A day of the hire calendar: with whom a machine is, or why it cannot go out; neither: free."""

    day: date
    hire: Hire | None
    why_not: str


def hire_calendar(first: date, last: date, *, today: date) -> list[tuple[Machine, list[DayOut]]]:
    """Each machine in use with each day from first to last: three queries."""
    rows = (
        machines_in_use()
        .prefetch_related(None)
        .prefetch_related(
            Prefetch("hires", Hire.objects.filter(since__lte=last).select_related("person").order_by("since")),
            Prefetch("faults", Fault.objects.filter(put_right_on__isnull=True)),
        )
    )
    days = [date.fromordinal(number) for number in range(first.toordinal(), last.toordinal() + 1)]
    return [(machine, [_day_out(machine, day, today) for day in days]) for machine in rows]


def _day_out(machine: Machine, day: date, today: date) -> DayOut:
    hire = next((hire for hire in machine.hires.all() if _is_out(hire, day) or _is_late_on(hire, day, today)), None)
    return DayOut(day, hire, "" if hire else why_machine_is_not_free(machine, day))


def _is_late_on(hire: Hire, day: date, today: date) -> bool:
    return is_late(hire, today) and hire.until < day <= today


def _is_out(hire: Hire, day: date) -> bool:
    """A machine given back early is free from the day after."""
    return hire.since <= day <= (hire.returned_on or hire.until)


def _words(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
