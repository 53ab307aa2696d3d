"""Warnings that stop nobody: said beside a visit."""

from clients.kit.queries import why_machine_is_not_free
from clients.visits.models import Visit
from clients.visits.spots import why_spot_stands_alone
from clients.workdays.queries import workdays_of


def notes_of(visit: Visit) -> list[str]:
    """Everything worth saying beside an open visit, without the permission."""
    notes = (why_spot_stands_alone(visit), away_note(visit), machine_note(visit), barn_note(visit))
    return [note for note in notes if note]


def machine_note(visit: Visit) -> str:
    if not visit.service.uses_machine:
        return ""
    if visit.machine is None:
        return "No machine is set aside yet."
    return why_machine_is_not_free(visit.machine, visit.day)


def away_note(visit: Visit) -> str:
    return workdays_of(visit.practitioner, visit.day).why_away(visit.practitioner, visit.day)


def barn_note(visit: Visit) -> str:
    if visit.barn_id == visit.animal.barn_id:
        return ""
    return f"{visit.animal} stands at {visit.animal.barn} now; this visit is set for {visit.barn}."
