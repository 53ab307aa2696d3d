"""Running late: the new times of what is left of a day, and what each who waits is told."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

from backoffice.business.models import Business
from backoffice.ui.words import clock
from clients.rounds.lateness import Leg, delayed
from clients.rounds.models import DayRound, RoundStop
from clients.rounds.queries import time_of
from clients.visits.clashes import minute_of
from clients.visits.messages import Message, names_of, told_about, whom_to_tell
from clients.visits.models import Told, Visit
from clients.visits.queries import OPEN

WORTH_A_WORD = 10


@dataclass(frozen=True, slots=True)
class LateStop:
    stop: RoundStop
    starts: time
    minutes: int
    visits: tuple[Visit, ...]


def late_stops(day_round: DayRound, late: int, business: Business) -> list[LateStop]:
    """The stops still to be made with their new starts, the next one being reached `late` minutes after its time."""
    stops = [stop for stop in day_round.stops.all() if any(visit.status in OPEN for visit in stop.visits.all())]
    lunch = None if day_round.lunch is None else minute_of(day_round.lunch)
    legs: list[Leg] = []
    free_from = 0
    for stop in stops:
        starts, arrives = minute_of(stop.starts), minute_of(stop.arrives)
        eaten = business.lunch_minutes if lunch is not None and free_from <= lunch < starts else 0
        slack = starts - max(arrives, free_from + stop.drive_minutes + eaten) if legs else 0
        legs.append(Leg(stop.pk, starts, max(0, slack)))
        free_from = minute_of(stop.ends)
    found = {delay.key: delay for delay in delayed(legs, late)}
    return [
        LateStop(
            stop=stop,
            starts=time_of(60 * found[stop.pk].starts),
            minutes=found[stop.pk].minutes,
            visits=tuple(visit for visit in stop.visits.all() if visit.status in OPEN),
        )
        for stop in stops
    ]


def late_messages(stops: Sequence[LateStop], on: date, business: Business) -> list[Message]:
    """One message a person whose stop is later than is worth a word, with the new time of each of their barns."""
    late = [each for each in stops if each.minutes >= WORTH_A_WORD]
    of_visit = {visit.pk: each for each in late for visit in each.visits}
    rows = [visit for each in late for visit in each.visits]
    told = told_about(rows, Told.What.LATE)
    drafts = []
    for person, theirs in whom_to_tell(rows, on):
        said = []
        for each in {of_visit[visit.pk].stop.pk: of_visit[visit.pk] for visit in theirs}.values():
            horses = names_of(visit for visit in theirs if of_visit[visit.pk] is each)
            said.append(
                f"We are about {each.minutes} minutes late: at {each.stop.barn} about {clock(each.starts)} instead of "
                f"{clock(each.stop.starts)}, for {horses}."
            )
        is_told = all((person.pk, visit.pk) in told for visit in theirs)
        drafts.append(Message(person, theirs, " ".join([*said, business.name]), is_told))
    return drafts
