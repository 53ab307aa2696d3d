"""A day of all who drive rounds: who would better make which stop, as a proposal; taken as it is or left."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from clients.kit.models import Machine
from clients.kit.queries import free_machines, machines_in_use
from clients.paperwork.models import Decision
from clients.rounds.actions import plan_round
from clients.rounds.day_round import Span
from clients.rounds.models import DayRound
from clients.rounds.queries import StopToPlan, as_stop, grouped, is_kept, lunch_of, seconds_of
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.solver import plan_day
from clients.rounds.team import Person, TeamPlan, TeamRequest, plan_team
from clients.visits.actions.booking import decide_for, lock_visit
from clients.visits.models import Visit
from clients.visits.queries import DONE, practitioners, visits_on
from clients.workdays.queries import Hours, Workdays


@dataclass(frozen=True, slots=True)
class HandOn:
    """A visit that another practitioner would make, with which machine, where it takes one."""

    visit: Visit
    to: User
    machine: Machine | None


@dataclass(frozen=True, slots=True)
class Shared:
    """The day shared out anew. Minutes of driving of all together; None where today's order does not place them all."""

    people: tuple[User, ...]
    minutes_before: int | None
    minutes_after: int
    moves: tuple[HandOn, ...]
    unplaced: tuple[tuple[StopToPlan, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class TeamDay:
    """What is planned from, with the rows behind each key."""

    request: TeamRequest
    people: dict[str, User]
    machines: Mapping[str, Machine | None]
    stops: dict[str, StopToPlan]


def share_out(day: date, business: Business) -> Shared:
    """The best sharing that was found, nothing changed. What is promised stays with whoever promised it.

    Refused with fewer than two who work that day, or without a base.
    """
    found = team_day(day, business)
    plan = plan_team(found.request)
    return Shared(
        people=tuple(found.people.values()),
        minutes_before=_minutes_now(found),
        minutes_after=round(sum(each.drive_seconds for each in plan.days.values()) / 60),
        moves=tuple(_moves(found, plan)),
        unplaced=tuple(
            (found.stops[left.key], tuple(reason.sentence for reason in left.reasons)) for left in plan.unplaced
        ),
    )


def team_day(day: date, business: Business) -> TeamDay:
    users = list(practitioners())
    workdays = Workdays(business, users, day, day)
    hours = {user: span for user in users if (span := workdays.hours(user, day))}
    bases = {user: base for user in hours if (base := base_of(business, user))}
    if len(bases) < 2:
        raise Refused("Sharing out takes two who work that day, each with a base on the map.")
    there = [visit for visit in visits_on(day).prefetch_related("barn__windows") if visit.barn.is_placed]
    working = {str(user.pk): user for user in bases}
    if any(visit.status in DONE for visit in there):
        raise Refused("This day has begun: hand single visits on by moving them.")
    stops = dict(_stops(there, day))
    barns = list({stop.barn.pk: stop.barn for stop in stops.values()}.values())
    drive = roads_of(business).table([*bases.values(), *map(place_of, barns)]).seconds
    at = {barn.pk: len(bases) + number for number, barn in enumerate(barns)}
    widest = Hours(min(each.opens for each in hours.values()), max(each.closes for each in hours.values()))
    machines = _machines(there, working, day)
    request = TeamRequest(
        drive=drive,
        people=tuple(
            Person(key, place, Span(seconds_of(hours[user].opens), seconds_of(hours[user].closes)), lunch_of(business))
            for place, (key, user) in enumerate(working.items())
        ),
        stops=tuple(
            replace(as_stop(stop, at[stop.barn.pk], day, business, widest), key=key) for key, stop in stops.items()
        ),
        people_of={key: _may(stop, working, machines) for key, stop in stops.items()},
    )
    return TeamDay(request, working, machines, stops)


def _stops(visits: Sequence[Visit], day: date) -> list[tuple[str, StopToPlan]]:
    """A stop where somebody has promised a time is theirs; one that several promised is one of each."""
    found = []
    for stop in grouped(visits, day):
        theirs = list(dict.fromkeys(visit.practitioner_id for visit in stop.visits if is_kept(visit)))
        if len(theirs) < 2:
            found.append((stop.key, stop))
            continue
        for pk in theirs:
            own = [visit for visit in stop.visits if visit.practitioner_id == pk]
            others = [visit for visit in stop.visits if visit.practitioner_id not in theirs] if pk == theirs[0] else []
            found.append((f"{stop.key}-{pk}", replace(stop, visits=(*own, *others))))
    return found


def _machines(visits: Sequence[Visit], working: Mapping[str, User], day: date) -> dict[str, Machine | None]:
    """Person → the machine that they have that day by the diary, or one that nobody has; None where there is none."""
    has: dict[str, Machine | None] = {}
    for visit in visits:
        if visit.machine is not None:
            has.setdefault(str(visit.practitioner_id), visit.machine)
    spare = [each for each in free_machines(machines_in_use(), day) if each not in has.values()]
    return {key: has.get(key) or (spare.pop(0) if spare else None) for key in working}


def _may(stop: StopToPlan, working: Mapping[str, User], machines: Mapping[str, Machine | None]) -> frozenset[str]:
    """Whoever promised the time, where they work that day; else whoever has what it takes."""
    kept = next((str(visit.practitioner_id) for visit in stop.visits if is_kept(visit)), None)
    if kept in working:
        return frozenset({str(kept)})
    if any(visit.service.uses_machine for visit in stop.visits):
        return frozenset(key for key in working if machines[key] is not None)
    return frozenset(working)


def _minutes_now(found: TeamDay) -> int | None:
    """As the diary has it, each day in its best order; None where a stop does not fit, or its practitioner is away."""
    has = {key: str(stop.visits[0].practitioner_id) for key, stop in found.stops.items()}
    if not set(has.values()) <= set(found.people):
        return None
    plans = [
        plan_day(found.request.day_of(person, [stop for stop in found.request.stops if has[stop.key] == person.key]))
        for person in found.request.people
    ]
    return None if any(plan.unplaced for plan in plans) else round(sum(plan.drive_seconds for plan in plans) / 60)


def _moves(found: TeamDay, plan: TeamPlan) -> list[HandOn]:
    moves = []
    for key, day in plan.days.items():
        person = found.people[key]
        for planned in day.order:
            for visit in found.stops[planned.key].visits:
                if visit.practitioner_id != person.pk:
                    moves.append(HandOn(visit, person, found.machines[key] if visit.service.uses_machine else None))
    return moves


@audit.action
def hand_on(*, day: date, moves: Sequence[HandOn], at: datetime, by: User) -> None:
    """Give visits of the day to others, and plan the round of everybody whose day changes. All of it, or none.

    A booked visit is decided anew for who makes it now. Refused where one changed meanwhile.
    """
    changed: dict[int, User] = {}
    for move in moves:
        visit = lock_visit(move.visit)
        if visit.day != day or not visit.is_open or is_kept(visit) != is_kept(move.visit):
            raise Refused(f"{visit} changed meanwhile. Share the day out again.")
        changed |= {visit.practitioner_id: visit.practitioner, move.to.pk: move.to}
        before, visit.practitioner = visit.practitioner_id, move.to
        visit.machine = move.machine or visit.machine
        if visit.status == Visit.Status.BOOKED:
            visit.booking_decision = decide_for(visit, door=Decision.Door.BOOKING, at=at, by=by, override_reason="")
        visit.save()
        audit.record("visit handed on", visit, at=at, by=by, changes={"from": before, "to": move.to.pk})
    workdays = Workdays(the_business(), changed.values(), day, day)
    for person in changed.values():
        if workdays.hours(person, day):
            plan_round(day=day, practitioner=person, at=at, by=by)
        else:
            DayRound.objects.filter(day=day, practitioner=person).delete()


def take_sharing(*, day: date, at: datetime, by: User, shown: Sequence[tuple[int, int]]) -> int:
    """Share out once more and take it, when it is still what was `shown` as (visit, person); how many visits moved."""
    shared = share_out(day, the_business())
    if sorted((move.visit.pk, move.to.pk) for move in shared.moves) != sorted(shown):
        raise Refused("The diary changed since this was proposed. Look at the new proposal.")
    hand_on(day=day, moves=shared.moves, at=at, by=by)
    return len(shared.moves)
