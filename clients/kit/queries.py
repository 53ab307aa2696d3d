from collections.abc import Iterable
from datetime import date

from django.db.models import Prefetch, QuerySet

from clients.kit.models import Applicator, Hire, Machine


def machines() -> QuerySet[Machine]:
    """All machines with the hires that are still out or to come (not returned)."""
    return Machine.objects.prefetch_related(
        Prefetch("hires", Hire.objects.filter(returned_on__isnull=True).select_related("person").order_by("since"))
    )


def machines_in_use() -> QuerySet[Machine]:
    return machines().filter(is_in_use=True)


def applicators_in_use() -> QuerySet[Applicator]:
    return Applicator.objects.filter(is_in_use=True)


def hires_of(machine: Machine) -> QuerySet[Hire]:
    return machine.hires.select_related("person").order_by("-since")


def machines_due(on: date) -> QuerySet[Machine]:
    """Machines in use whose inspection is due on or before the day."""
    return Machine.objects.filter(is_in_use=True, inspection_due__lte=on).order_by("inspection_due")


def hires_due_back(on: date) -> QuerySet[Hire]:
    return Hire.objects.filter(returned_on__isnull=True, until__lte=on).select_related("machine", "person")


def why_machine_is_not_free(machine: Machine, day: date) -> str:
    """The reason in words that the machine cannot work on the day; empty when it can.

    Reads `machine.hires`; rows of `machines()` carry the open ones.
    """
    if not machine.is_in_use:
        return f"{machine} is out of use."
    if machine.inspection_due is not None and machine.inspection_due < day:
        return f"The inspection of {machine} was due on {_words(machine.inspection_due)}."
    hire = next((hire for hire in machine.hires.all() if _is_out(hire, day)), None)
    return f"{machine} is on hire to {hire.person} until {_words(hire.until)}." if hire else ""


def is_on_hire(machine: Machine, day: date) -> bool:
    return any(_is_out(hire, day) for hire in machine.hires.all())


def machine_is_free(machine: Machine, day: date) -> bool:
    return not why_machine_is_not_free(machine, day)


def free_machines(rows: Iterable[Machine], day: date) -> list[Machine]:
    return [machine for machine in rows if machine_is_free(machine, day)]


def _is_out(hire: Hire, day: date) -> bool:
    """A machine given back early is free from the day after."""
    return hire.since <= day <= (hire.returned_on or hire.until)


def _words(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
