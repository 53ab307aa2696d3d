"""What is noted at one stop of a round: that its time is kept, and what was cleaned after a horse in isolation."""

from collections.abc import Collection, Sequence
from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.rounds.models import Cleaning, DayRound, RoundStop
from clients.visits.actions.booking import lock_visit
from clients.visits.models import Visit
from clients.visits.queries import OPEN

# Common practice, no published source; the vet and the yard's own rules come first.
CLEANING_LIST = {
    "boots": "Boots changed, or brushed clean and disinfected",
    "hands": "Hands and forearms washed",
    "clothes": "Outer clothes changed",
    "applicator": "Applicator and cables wiped, as the maker allows",
    "left": "Nothing carried on: ropes, brushes and cloths stay there",
}


@audit.action
def lock_stop(*, visits: Sequence[Visit], is_locked: bool, at: datetime, by: User) -> None:
    """No plan moves the times of these visits, or any may again. Nobody was told, so moving one takes the lock off."""
    locked = [lock_visit(visit) for visit in visits if visit.status in OPEN]
    if not locked or any(visit.starts is None for visit in locked):
        raise Refused("Only a stop still to be made has a time to keep.")
    for visit in locked:
        visit.is_locked = is_locked
        visit.save(update_fields=["is_locked"])
    changes = {"visits": [visit.pk for visit in locked], "starts": locked[0].starts}
    audit.record("time kept" if is_locked else "time let go", locked[0], at=at, by=by, changes=changes)


@audit.action
def note_cleaning(*, day_round: DayRound, stop: RoundStop, done: Collection[str], at: datetime, by: User) -> Cleaning:
    """What of CLEANING_LIST was done on leaving this stop; what was noted before is written over."""
    cleaning, _ = Cleaning.objects.update_or_create(
        day=day_round.day,
        practitioner=day_round.practitioner,
        barn=stop.barn,
        defaults={"done": [key for key in CLEANING_LIST if key in done], "noted_at": at},
    )
    audit.record("cleaning noted", cleaning, at=at, by=by, changes={"done": cleaning.done})
    return cleaning


def cleaning_lines(cleaning: Cleaning | None) -> list[tuple[str, str, bool]]:
    """(key, words, whether it was done), in the order of the list."""
    done = set(cleaning.done) if cleaning else set()
    return [(key, words, key in done) for key, words in CLEANING_LIST.items()]
