from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from clients.kit.models import Applicator
from clients.paperwork.actions import open_stop_note
from clients.paperwork.models import Decision
from clients.plans.cadence import say_date
from clients.plans.models import Service
from clients.visits.actions.booking import decide_for, lock_visit, pencil_visit
from clients.visits.models import ArrivalLook, Session, SessionArea, Visit

LONGEST_AREA, LONGEST_SESSION, TOP_OF_SCALE, TOP_SETTING = 120, 300, 10, 20


@dataclass(frozen=True, slots=True)
class ArrivalSeen:
    """The look-over on arrival, before anything is switched on."""

    no_stop_sign: bool
    is_dry: bool = True
    moves_soundly: bool = True
    handler_present: bool = True
    electronics_away: bool = True


@dataclass(frozen=True, slots=True)
class AreaDone:
    """One place on the body as it was worked."""

    area: str
    minutes: int
    applicator: Applicator | None = None
    setting: int | None = None
    reaction: str = ""


@dataclass(frozen=True, slots=True)
class SessionDone:
    """One service as it was given. With areas the minutes are theirs; without, `minutes` says them."""

    service: Service
    areas: tuple[AreaDone, ...] = ()
    minutes: int | None = None
    ease_before: int | None = None
    ease_after: int | None = None
    reaction: str = ""
    note: str = ""

    @property
    def total(self) -> int:
        return sum(area.minutes for area in self.areas) if self.areas else self.minutes or 0


@audit.action
def complete_visit(
    *,
    visit: Visit,
    arrival: ArrivalSeen,
    sessions: Sequence[SessionDone],
    note: str = "",
    at: datetime,
    by: User | None,
    override_reason: str = "",
) -> Visit:
    """The work was done: look-over, sessions and areas are kept, and permission is decided again at the barn's door."""
    visit = lock_for_today(visit, at=at, verb="completed")
    refuse_unfit(arrival, sessions)
    visit.start_decision = decide_for(
        visit,
        door=Decision.Door.BARN,
        at=at,
        by=by,
        override_reason=override_reason,
        places=places_of(sessions),
        stop_sign_seen=False,
    )
    return write_work(visit, arrival, sessions, note=note, at=at, by=by)


def refuse_unfit(arrival: ArrivalSeen, sessions: Sequence[SessionDone]) -> None:
    if not arrival.no_stop_sign:
        raise Refused("A stop sign was seen: do not start. Stop and call the vet.")
    check_sessions(sessions)


def places_of(sessions: Sequence[SessionDone]) -> list[str]:
    return [area.area for session in sessions for area in session.areas]


def write_work(
    visit: Visit,
    arrival: ArrivalSeen,
    sessions: Sequence[SessionDone],
    *,
    note: str,
    at: datetime,
    by: User | None,
) -> Visit:
    """Look-over, sessions and areas of a locked visit, whose start was decided."""
    ArrivalLook.objects.create(visit=visit, looked_at=at, **asdict(arrival))
    for session in sessions:
        _write_session(visit, session)
    visit.status, visit.completed_at, visit.note = Visit.Status.COMPLETED, at, note.strip()
    visit.save()
    minutes = sum(session.total for session in sessions)
    audit.record("visit completed", visit, at=at, by=by, changes={"sessions": len(sessions), "minutes": minutes})
    return visit


def lock_for_today(visit: Visit, *, at: datetime, verb: str) -> Visit:
    visit = lock_visit(visit)
    if visit.status != Visit.Status.BOOKED:
        raise Refused(f"Only a booked visit can be {verb}.")
    if visit.day > local_date(at):
        raise Refused(f"This visit is on {say_date(visit.day)}; it cannot be {verb} before that day.")
    return visit


def check_sessions(sessions: Sequence[SessionDone]) -> None:
    if not sessions:
        raise Refused("Write down at least one session.")
    for session in sessions:
        for area in session.areas:
            _check_area(area)
        if not 1 <= session.total <= LONGEST_SESSION:
            raise Refused(f"A session takes from 1 to {LONGEST_SESSION} minutes, not {session.total}.")
        for ease in (session.ease_before, session.ease_after):
            if ease is not None and not 0 <= ease <= TOP_OF_SCALE:
                raise Refused(f"Ease is a number from 0 to {TOP_OF_SCALE}, or blank.")


def _check_area(area: AreaDone) -> None:
    if not area.area.strip():
        raise Refused("Name the area.")
    if not 1 <= area.minutes <= LONGEST_AREA:
        raise Refused(f"An area takes from 1 to {LONGEST_AREA} minutes, not {area.minutes}.")
    if area.setting is not None and not 1 <= area.setting <= TOP_SETTING:
        raise Refused(f"A setting is a number from 1 to {TOP_SETTING}, or blank.")


def _write_session(visit: Visit, done: SessionDone) -> None:
    session = Session.objects.create(
        visit=visit,
        service=done.service,
        minutes=done.total,
        ease_before=done.ease_before,
        ease_after=done.ease_after,
        reaction=done.reaction.strip(),
        note=done.note.strip(),
    )
    write_areas(session, done.areas)


def write_areas(session: Session, areas: Sequence[AreaDone]) -> None:
    SessionArea.objects.bulk_create(
        SessionArea(
            session=session,
            position=position,
            area=area.area.strip(),
            minutes=area.minutes,
            applicator=area.applicator,
            setting=area.setting,
            reaction=area.reaction.strip(),
        )
        for position, area in enumerate(areas, start=1)
    )


@audit.action
def could_not_work(*, visit: Visit, cause: str, note: str = "", at: datetime, by: User | None) -> Visit:
    """We came and could not work. What it costs, if anything, is confirmed on the money side."""
    visit = lock_for_today(visit, at=at, verb="closed")
    if cause not in Visit.Cause.values:
        raise Refused("Say why: horse unwell or wet, not safe, nobody there, weather, or the horse would not have it.")
    visit.status, visit.cause, visit.note = Visit.Status.COULD_NOT_WORK, Visit.Cause(cause), note.strip()
    visit.save(update_fields=["status", "cause", "note"])
    audit.record("visit could not work", visit, at=at, by=by, changes={"cause": cause})
    return visit


@audit.action
def stop_for_the_vet(*, visit: Visit, seen: str, at: datetime, by: User) -> Visit:
    """Stopped: the visit ends unwell and a stop note holds the horse until somebody closes it with the vet's word."""
    if not seen.strip():
        raise Refused("Write down what you see, without naming an illness.")
    visit = could_not_work(visit=visit, cause=Visit.Cause.UNWELL, note=seen, at=at, by=by)
    open_stop_note(animal=visit.animal, seen=seen.strip(), at=at, by=by)
    return visit


@audit.action
def set_next_visit(*, visit: Visit, day: date, service: Service, at: datetime, by: User | None) -> Visit:
    """Leave with the next date: pencilled with the same person, at the place where the horse stands."""
    visit = lock_done(visit)
    if day <= visit.day:
        raise Refused(f"The next visit is after {say_date(visit.day)}.")
    plan = visit.plan if visit.plan is not None and day <= visit.plan.last_day else None
    following = pencil_visit(
        animal=visit.animal,
        service=service,
        practitioner=visit.practitioner,
        machine=visit.machine,
        plan=plan,
        planned_day=day if plan else None,
        day=day,
        at=at,
        by=by,
    )
    visit.call_list_reason = ""
    visit.save(update_fields=["call_list_reason"])
    return following


@audit.action
def skip_next_visit(*, visit: Visit, reason: str, at: datetime, by: User | None) -> Visit:
    """Leave without a date: the reason puts the horse on the call list."""
    visit = lock_done(visit)
    if not reason.strip():
        raise Refused("Say why no next visit is set; it goes on the call list.")
    visit.call_list_reason = reason.strip()
    visit.save(update_fields=["call_list_reason"])
    audit.record("next visit skipped", visit, at=at, by=by)
    return visit


def lock_done(visit: Visit) -> Visit:
    visit = lock_visit(visit)
    if visit.status not in (Visit.Status.COMPLETED, Visit.Status.COULD_NOT_WORK):
        raise Refused("The next visit is set when this one is over.")
    return visit
