from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.kit.models import Machine
from clients.kit.queries import is_on_hire, machines, why_machine_is_not_free
from clients.paperwork.actions import Handed, decide, note_decision
from clients.paperwork.facts import MachineFacts
from clients.paperwork.models import Decision
from clients.people.models import Barn
from clients.plans.cadence import moment, say_date
from clients.plans.models import Plan, Service
from clients.visits.clashes import first_clash
from clients.visits.hours import why_outside_hours
from clients.visits.models import Visit
from clients.visits.queries import as_taken, taken_on
from clients.visits.spots import why_spot_stands_alone
from clients.workdays.queries import workdays_of

SHORTEST, LONGEST = 5, 300
FURTHEST_AHEAD = timedelta(days=731)


def lock_visit(visit: Visit) -> Visit:
    """The row under lock, with what the checks read."""
    return (
        Visit.objects.select_for_update(of=("self",))
        .select_related("animal", "barn", "service", "practitioner", "machine", "plan__guideline_version")
        .get(pk=visit.pk)
    )


@audit.action
def pencil_visit(
    *,
    animal: Animal,
    service: Service,
    practitioner: User,
    day: date,
    at: datetime,
    by: User | None,
    machine: Machine | None = None,
    barn: Barn | None = None,
    plan: Plan | None = None,
    minutes: int | None = None,
    part: int = 1,
    planned_day: date | None = None,
) -> Visit:
    """A visit noted for a day without a time: promised to nobody yet."""
    visit = Visit(
        animal=animal,
        barn=barn or animal.barn,
        plan=plan,
        service=service,
        practitioner=practitioner,
        machine=machine if service.uses_machine else None,
        day=day,
        part=part,
        minutes=service.minutes if minutes is None else minutes,
        planned_day=planned_day,
    )
    _refuse_impossible(visit, on=local_date(at))
    visit.save(force_insert=True)
    audit.record("visit pencilled", visit, at=at, by=by, changes={"animal": animal, "day": day, "plan": plan})
    return visit


@audit.action
def book_new_visit(
    *,
    animal: Animal,
    service: Service,
    practitioner: User,
    day: date,
    starts: time,
    at: datetime,
    by: User | None,
    machine: Machine | None = None,
    barn: Barn | None = None,
    plan: Plan | None = None,
    minutes: int | None = None,
    part: int = 1,
    override_reason: str = "",
    outside_hours_reason: str = "",
    spot_alone_reason: str = "",
) -> Visit:
    visit = pencil_visit(
        animal=animal,
        service=service,
        practitioner=practitioner,
        machine=machine,
        barn=barn,
        plan=plan,
        minutes=minutes,
        day=day,
        part=part,
        at=at,
        by=by,
    )
    return book_visit(
        visit=visit,
        starts=starts,
        at=at,
        by=by,
        override_reason=override_reason,
        outside_hours_reason=outside_hours_reason,
        spot_alone_reason=spot_alone_reason,
    )


@audit.action
def book_visit(
    *,
    visit: Visit,
    starts: time,
    at: datetime,
    by: User | None,
    machine: Machine | None = None,
    override_reason: str = "",
    outside_hours_reason: str = "",
    spot_alone_reason: str = "",
) -> Visit:
    """A pencilled visit gets its time, and a machine if one is given.

    Permission is decided and kept; nobody and no machine is in two places.
    """
    visit = lock_visit(visit)
    if visit.status != Visit.Status.PENCILLED:
        raise Refused("Only a pencilled visit can be booked.")
    visit.starts, visit.machine = starts, machine or visit.machine
    _refuse_impossible(visit, on=local_date(at))
    refuse_taken(visit, on=local_date(at))
    _keep_hours(visit, outside_hours_reason)
    _keep_near_a_full_body(visit, spot_alone_reason)
    visit.booking_decision = decide_for(
        visit, door=Decision.Door.BOOKING, at=at, by=by, override_reason=override_reason
    )
    visit.status = Visit.Status.BOOKED
    visit.save(
        update_fields=["starts", "machine", "status", "booking_decision", "outside_hours_reason", "spot_alone_reason"]
    )
    audit.record("visit booked", visit, at=at, by=by, changes={"day": visit.day, "starts": starts} | _alone(visit))
    return visit


@audit.action
def move_visit(
    *,
    visit: Visit,
    day: date,
    starts: time | None,
    at: datetime,
    by: User | None,
    part: int | None = None,
    practitioner: User | None = None,
    machine: Machine | None = None,
    override_reason: str = "",
    outside_hours_reason: str = "",
    spot_alone_reason: str = "",
) -> Visit:
    """Another day or time. A booked visit is checked and decided anew, and its time is no longer confirmed."""
    visit = lock_visit(visit)
    if not visit.is_open:
        raise Refused("Only a pencilled or booked visit can be moved.")
    before = visit.day
    visit.day, visit.part = day, part or visit.part
    visit.practitioner = practitioner or visit.practitioner
    visit.machine = machine or visit.machine
    visit.is_confirmed = visit.is_locked = False
    _refuse_impossible(visit, on=local_date(at))
    if visit.status == Visit.Status.BOOKED:
        if starts is None:
            raise Refused("A booked visit needs a time.")
        visit.starts = starts
        refuse_taken(visit, on=local_date(at))
        _keep_hours(visit, outside_hours_reason)
        _keep_near_a_full_body(visit, spot_alone_reason or visit.spot_alone_reason)
        visit.booking_decision = decide_for(
            visit, door=Decision.Door.BOOKING, at=at, by=by, override_reason=override_reason
        )
    visit.save()
    changes = {"from": before, "to": day, "starts": visit.starts} | _alone(visit)
    audit.record("visit moved", visit, at=at, by=by, changes=changes)
    return visit


@audit.action
def confirm_time(*, visit: Visit, at: datetime, by: User | None) -> Visit:
    """The owner knows the time: from now on it is not moved by the planner."""
    visit = lock_visit(visit)
    if visit.status != Visit.Status.BOOKED:
        raise Refused("Only a booked visit has a time to confirm.")
    visit.is_confirmed = True
    visit.save(update_fields=["is_confirmed"])
    audit.record("visit time confirmed", visit, at=at, by=by, changes={"day": visit.day, "starts": visit.starts})
    return visit


@audit.action
def cancel_visit(*, visit: Visit, reason: str, at: datetime, by: User | None, without_fee: bool = False) -> Visit:
    """Called off before anybody came. Late when a booked visit had less notice left than the business asks for.

    With `without_fee` it is never late: nobody could have told sooner.
    """
    visit = lock_visit(visit)
    if not visit.is_open:
        raise Refused("Only a pencilled or booked visit can be cancelled.")
    if not reason.strip():
        raise Refused("Say why the visit is cancelled.")
    visit.is_late_cancel = not without_fee and is_late(visit, at=at)
    visit.status, visit.cancelled_at, visit.cancel_reason = Visit.Status.CANCELLED, at, reason.strip()
    visit.save(update_fields=["status", "cancelled_at", "cancel_reason", "is_late_cancel"])
    audit.record("visit cancelled", visit, at=at, by=by, changes={"day": visit.day, "late": visit.is_late_cancel})
    return visit


def is_late(visit: Visit, *, at: datetime) -> bool:
    """Whether cancelling now would be late by the business's notice hours."""
    if visit.status != Visit.Status.BOOKED or visit.starts is None:
        return False
    business = the_business()
    return moment(visit.day, visit.starts, business.zone) - at < timedelta(hours=business.cancel_notice_hours)


def decide_for(
    visit: Visit,
    *,
    door: Decision.Door,
    at: datetime,
    by: User | None,
    override_reason: str,
    places: Sequence[str] = (),
    stop_sign_seen: bool | None = None,
) -> Decision:
    """Permission to work for this visit, with what this feature knows: plan, minutes, places, machine, look-over."""
    return decide(
        animal=visit.animal,
        door=door,
        on=visit.day,
        service=visit.service,
        at=at,
        by=by,
        override_reason=override_reason,
        **_handed(visit, places, stop_sign_seen),
    )


def note_decision_for(
    visit: Visit,
    *,
    at: datetime,
    by: User | None,
    override_reason: str,
    places: Sequence[str],
    stop_sign_seen: bool | None,
) -> Decision:
    """What permission says of work at the barn that is done already: kept, and refused to nobody."""
    return note_decision(
        animal=visit.animal,
        door=Decision.Door.BARN,
        on=visit.day,
        service=visit.service,
        at=at,
        by=by,
        override_reason=override_reason,
        **_handed(visit, places, stop_sign_seen),
    )


def _handed(visit: Visit, places: Sequence[str], stop_sign_seen: bool | None) -> Handed:
    return {
        "plan": visit.plan,
        "minutes": visit.minutes,
        "places": places,
        "practitioner": visit.practitioner_id,
        "machine": _machine_facts(visit),
        "stop_sign_seen": stop_sign_seen,
    }


def _machine_facts(visit: Visit) -> MachineFacts | None:
    machine = visit.machine if visit.service.uses_machine else None
    if machine is None:
        return None
    return MachineFacts(machine.name, machine.inspection_due, is_on_hire=is_on_hire(machine, visit.day))


def _refuse_impossible(visit: Visit, *, on: date) -> None:
    if visit.day < on:
        raise Refused(f"{say_date(visit.day)} is past.")
    if visit.day > on + FURTHEST_AHEAD:
        raise Refused(f"{say_date(visit.day)} is more than two years ahead.")
    if not SHORTEST <= visit.minutes <= LONGEST:
        raise Refused(f"A visit takes from {SHORTEST} to {LONGEST} minutes, not {visit.minutes}.")
    if visit.part not in (1, 2):
        raise Refused("A day has two parts.")
    died = visit.animal.died_on
    if died is not None and visit.day > died:
        raise Refused(f"{visit.animal} has died.")
    if not visit.practitioner.is_active:
        raise Refused(f"{visit.practitioner} no longer works here.")


def refuse_taken(visit: Visit, *, on: date) -> None:
    """Refuse when practitioner or machine is away, or when practitioner, machine or horse is elsewhere at that time."""
    away = workdays_of(visit.practitioner, visit.day).why_away(visit.practitioner, visit.day)
    if away:
        raise Refused(away)
    if visit.service.uses_machine:
        _refuse_machine_away(visit, on)
    wanted = as_taken(visit)
    if wanted.ends > 24 * 60:
        raise Refused("The visit would run past midnight.")
    clash = first_clash(wanted, taken_on(visit.day, besides=visit))
    if clash is None:
        return
    who = {"practitioner": visit.practitioner, "machine": visit.machine, "animal": visit.animal}[clash.what]
    raise Refused(f"{who} is taken then: {clash.taken.words}.")


def _refuse_machine_away(visit: Visit, on: date) -> None:
    if visit.machine_id is None:
        raise Refused(f"{visit.service} needs a machine: choose one.")
    machine = machines().get(pk=visit.machine_id)
    reason = why_machine_is_not_free(machine, visit.day, today=on)
    if reason:
        raise Refused(reason)


def _keep_hours(visit: Visit, reason: str) -> None:
    outside = why_outside_hours(visit)
    if outside and not reason.strip():
        raise Refused(f"{outside} Give a reason to book it all the same.")
    visit.outside_hours_reason = reason.strip() if outside else ""


def _keep_near_a_full_body(visit: Visit, reason: str) -> None:
    """A spot on its own takes a reason: given here, or once for its whole plan."""
    alone = why_spot_stands_alone(visit)
    reason = reason.strip() or (visit.plan.spots_alone_reason if visit.plan else "")
    if alone and not reason:
        raise Refused(f"{alone} Give a reason to book it all the same.")
    visit.spot_alone_reason = reason if alone else ""


def _alone(visit: Visit) -> dict[str, object]:
    return {"spot_without_full_body": True} if visit.spot_alone_reason else {}
