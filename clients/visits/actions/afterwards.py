"""Work that reaches the office after it was done: it is recorded, whatever the diary says by then."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.paperwork.models import Decision
from clients.visits.actions.booking import lock_visit, note_decision_for
from clients.visits.actions.doing import (
    AreaDone,
    ArrivalSeen,
    SessionDone,
    check_sessions,
    lock_for_today,
    places_of,
    refuse_unfit,
    write_areas,
    write_work,
)
from clients.visits.models import Session, Visit

AMENDABLE = ("ease_before", "ease_after", "reaction", "note")


@audit.action
def record_work(
    *,
    visit: Visit,
    arrival: ArrivalSeen,
    sessions: Sequence[SessionDone],
    note: str = "",
    override_reason: str = "",
    at: datetime,
    by: User,
    whatever_the_diary_says: bool = False,
) -> tuple[Visit, Decision]:
    """The work of a booked visit as it was done; what permission says of it now is kept, and returned, not obeyed.

    With `whatever_the_diary_says` also that of a visit that was called off, moved or never given a time meanwhile.
    """
    visit = _put_back_to(visit, at) if whatever_the_diary_says else lock_for_today(visit, at=at, verb="completed")
    refuse_unfit(arrival, sessions)
    decision = note_decision_for(
        visit,
        at=at,
        by=by,
        override_reason=override_reason,
        places=places_of(sessions),
        stop_sign_seen=False,
    )
    visit.start_decision = decision
    visit.booking_decision = visit.booking_decision or decision
    return write_work(visit, arrival, sessions, note=note, at=at, by=by), decision


def _put_back_to(visit: Visit, at: datetime) -> Visit:
    """The visit on the day of the work; its time, where it had none, is the moment of the work."""
    visit = lock_visit(visit)
    if visit.status in (Visit.Status.COMPLETED, Visit.Status.COULD_NOT_WORK):
        raise Refused("This visit is written up already.")
    local = timezone.localtime(at)
    visit.day, visit.starts = local.date(), visit.starts or local.time().replace(second=0, microsecond=0)
    visit.cancelled_at, visit.cancel_reason, visit.is_late_cancel = None, "", False
    return visit


@audit.action
def amend_session(
    *,
    visit: Visit,
    areas: Sequence[AreaDone],
    words: Mapping[str, Any],
    without: Collection[str] = (),
    at: datetime,
    by: User,
) -> Session:
    """What came later to a completed visit: areas, which replace those of the same name, and words (ease, note…).

    The report is to be written anew.
    """
    visit = lock_visit(visit)
    session = visit.sessions.select_for_update().first()
    if visit.status != Visit.Status.COMPLETED or session is None:
        raise Refused("Only a completed visit can be added to.")
    kept = {area.area: area for area in areas_of(session) if area.area not in without} | {
        area.area.strip(): area for area in areas
    }
    ease = {name: words.get(name, getattr(session, name)) for name in ("ease_before", "ease_after")}
    done = SessionDone(service=session.service, areas=tuple(kept.values()), minutes=session.minutes, **ease)
    check_sessions([done])
    session.areas.all().delete()
    write_areas(session, done.areas)
    session.minutes, session.ease_before, session.ease_after = done.total, done.ease_before, done.ease_after
    session.reaction = words.get("reaction", session.reaction)
    session.save()
    if "note" in words:
        visit.note = words["note"]
        visit.save(update_fields=["note"])
    changes = {"areas": len(areas), "words": sorted(set(words) & set(AMENDABLE))}
    audit.record("session amended", visit, at=at, by=by, changes=changes)
    return session


def areas_of(session: Session) -> list[AreaDone]:
    return [
        AreaDone(each.area, each.minutes, each.applicator, each.setting, each.reaction)
        for each in session.areas.select_related("applicator")
    ]
