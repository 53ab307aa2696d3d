"""A round as screen and paper show it."""

from collections.abc import Mapping, Sequence

from django.utils import timezone

from clients.animals.models import Animal
from clients.paperwork.permission import Permission
from clients.rounds.models import DayRound, RoundStop
from clients.rounds.queries import key_of, permissions_of, unplaced_of
from clients.visits.hours import say_light
from clients.visits.models import StopList, Visit
from clients.visits.queries import DONE
from clients.visits.stop_lists import lines_of, noted_lists


def _said_of_all(permissions: Sequence[Permission]) -> list[str]:
    """Notes that every horse of the day has, so that paper says them once."""
    said = [[note.sentence for note in permission.notes] for permission in permissions]
    return [sentence for sentence in said[0] if all(sentence in each for each in said)] if len(said) > 1 else []


def _stop_after_lunch(found: DayRound) -> RoundStop | None:
    """The stop before which lunch is eaten on the road; none where it is eaten at home or there is none."""
    if found.lunch is None or found.leaves is None or found.lunch < found.leaves:
        return None
    return next((stop for stop in found.stops.all() if stop.starts > found.lunch), None)


def _cleaning(stop: RoundStop, cleaned: Mapping[int, StopList]) -> list[tuple[str, str, bool]]:
    """The cleaning list of a stop in isolation with what is ticked; none elsewhere."""
    if stop.isolation == Animal.Isolation.CLEAN:
        return []
    noted = cleaned.get(stop.barn_id)
    return lines_of(StopList.Kind.CLEANING, noted.done if noted else ())


def sheet_context(
    found: DayRound, visits: Sequence[Visit], permissions: Mapping[int, Permission] | None = None
) -> Mapping[str, object]:
    """What screen and paper show of a round: its stops, each visit with its permission, read here unless given."""
    permissions = permissions_of(visits, found.day) if permissions is None else permissions
    cleaned = noted_lists(StopList.Kind.CLEANING, found.day, found.practitioner)
    lunch_before = _stop_after_lunch(found)
    zone = timezone.get_current_timezone()
    stops = [
        {
            "stop": stop,
            "key": key_of(stop),
            "visits": [(visit, permissions[visit.pk]) for visit in stop.visits.all()],
            "is_done": all(visit.status in DONE for visit in stop.visits.all()),
            "is_locked": any(visit.is_locked for visit in stop.visits.all()),
            "light": say_light(stop.barn, found.day, zone),
            "comes_after_lunch": stop == lunch_before,
            "cleaning": _cleaning(stop, cleaned),
        }
        for stop in found.stops.all()
    ]
    horses = len({visit.animal_id for visit in visits})
    return {
        "round": found,
        "stops": stops,
        "horses": horses,
        "unplaced": unplaced_of(found),
        "said_of_all": _said_of_all([permissions[visit.pk] for visit in visits]),
    }
