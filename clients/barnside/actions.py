"""Entries from the barn are taken in, each once; what cannot be taken waits for a person; phones are let in or not."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.later.actions import later
from backoffice.refusal import Refused
from clients.barnside.clocks import happened
from clients.barnside.kinds import KINDS
from clients.barnside.models import BarnEvent, Phone
from clients.barnside.reading import Arrived, Unreadable, raw_part, read_entry
from clients.plans.cadence import moment
from clients.visits.actions import write_visit_report
from clients.visits.models import Visit
from clients.visits.queries import visits

State = BarnEvent.State
UNREADABLE = "unreadable"
REMOVED = "This phone was removed from the office. Ask the owner-manager to let it in again."
SEEN_EVERY = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one entry: taken, open (kept, a person decides) or refused (not kept here; the phone keeps it)."""

    id: str
    state: str
    sentence: str = ""


@audit.action
def let_in(*, key: UUID, name: str, at: datetime, by: User) -> Phone:
    """The phone that asks, noted at its first time. One that was removed, or is somebody else's, is refused."""
    phone, is_new = Phone.objects.get_or_create(
        key=key, defaults={"person": by, "name": name[:120], "first_seen": at, "last_seen": at}
    )
    if phone.removed_at is not None:
        raise Refused(REMOVED)
    if phone.person_id != by.pk:
        raise Refused("Another person took the day along on this phone. They sign out there first.")
    if is_new:
        audit.record("phone let in", phone, at=at, by=by)
    elif at - phone.last_seen > SEEN_EVERY:
        phone.last_seen = at
        phone.save(update_fields=["last_seen"])
    return phone


@audit.action
def remove_phone(*, phone: Phone, at: datetime, by: User) -> Phone:
    """A lost phone: it gets no day any more and nothing is taken from it, until it is let in again."""
    phone.removed_at = at
    phone.save(update_fields=["removed_at"])
    audit.record("phone removed", phone, at=at, by=by)
    return phone


@audit.action
def let_in_again(*, phone: Phone, at: datetime, by: User) -> Phone:
    phone.removed_at = None
    phone.save(update_fields=["removed_at"])
    audit.record("phone let in again", phone, at=at, by=by)
    return phone


@audit.action
def receive(*, phone: Phone, entries: Sequence[object], drift: timedelta, at: datetime, by: User) -> list[Answer]:
    """Take a batch in, in its order and in one transaction: each entry once, whatever it is; one answer for each.

    `drift` is the server's clock less the device's at the moment of sending.
    """
    answers: list[Answer] = []
    written: list[int] = []
    for raw in entries:
        try:
            answer, event = _receive(phone, read_entry(raw), drift=drift, at=at, by=by)
        except Unreadable as fault:
            answer, event = _keep_unreadable(phone, raw, fault, at=at, by=by), None
        answers.append(answer)
        if event is not None and event.visit_id is not None and _changes_the_record(event):
            written.append(event.visit_id)
    if written:
        later(write_reports, sorted(set(written)), by.pk)
    return answers


def _receive(
    phone: Phone, arrived: Arrived, *, drift: timedelta, at: datetime, by: User
) -> tuple[Answer, BarnEvent | None]:
    known = BarnEvent.objects.filter(pk=arrived.id).first()
    if known is not None:
        return _answer_again(known, phone), None
    if arrived.person != by.pk:
        return Answer(str(arrived.id), "refused", "This entry is another person's: they sign in and send it."), None
    visit = _visit(arrived.visit)
    event = BarnEvent.objects.create(
        id=arrived.id,
        phone=phone,
        person=by,
        kind=arrived.kind,
        visit=visit,
        values=arrived.values,
        device_at=arrived.device_at,
        offset_ms=arrived.offset // timedelta(milliseconds=1),
        happened_at=happened(arrived.device_at, arrived.offset, drift, at, _dawn_of(visit)),
        received_at=at,
        is_applied=False,
    )
    _take(event, anyway=False)
    event.state = State.OPEN if event.why else State.TAKEN
    event.save(update_fields=["values", "state", "is_applied", "why"])
    if event.why:
        audit.record("entry waits for a decision", event, at=at, by=by, changes={"kind": event.kind})
    return _answer(event), event


def _dawn_of(visit: Visit | None) -> datetime | None:
    """The first moment of the visit's day, here."""
    return None if visit is None else moment(visit.day, time.min, timezone.get_current_timezone())


def _visit(pk: int | None) -> Visit | None:
    return None if pk is None else visits().filter(pk=pk).first()


def _take(event: BarnEvent, *, anyway: bool) -> None:
    """Try the entry by its kind: sets `is_applied`, and `why` where a person must decide or look."""
    take, given = KINDS.get(event.kind), event.values
    try:
        if take is None:
            raise Refused("The kind of this entry is not known here. A newer page may have made it.")
        if event.visit is None:
            raise Refused("The visit of this entry is not here.")
        with transaction.atomic():
            event.why = take(event, event.visit, anyway=anyway)[:1000]
        event.is_applied = True
    except Refused as refusal:
        event.why, event.values = refusal.sentence[:1000], given


def _changes_the_record(event: BarnEvent) -> bool:
    """Whether the visit's report is to be written: its work is recorded, or something was added to it."""
    was_done = event.visit is not None and event.visit.status == Visit.Status.COMPLETED
    return event.is_applied and (event.kind == "done" or (event.kind in ("areas", "how") and was_done))


def _answer(event: BarnEvent) -> Answer:
    return Answer(str(event.pk), event.state, event.why)


def _answer_again(known: BarnEvent, phone: Phone) -> Answer:
    """The same answer for the same entry. An id that another device used is never written over."""
    if known.phone_id != phone.pk:
        return Answer(str(known.pk), "refused", "An entry with this id came from another phone.")
    return _answer(known)


def _keep_unreadable(phone: Phone, raw: object, fault: Unreadable, *, at: datetime, by: User) -> Answer:
    """The beginning of it is kept under its id; without an id it stays on the phone, marked as refused."""
    if fault.id is None:
        return Answer(_id_words(raw), "refused", fault.sentence)
    known = BarnEvent.objects.filter(pk=fault.id).first()
    if known is not None:
        return _answer_again(known, phone)
    event = BarnEvent.objects.create(
        id=fault.id,
        phone=phone,
        person=by,
        kind=UNREADABLE,
        values=raw_part(raw),
        device_at=at,
        happened_at=at,
        received_at=at,
        state=State.OPEN,
        is_applied=False,
        why=fault.sentence,
    )
    audit.record("entry waits for a decision", event, at=at, by=by, changes={"kind": event.kind})
    return _answer(event)


def _id_words(raw: object) -> str:
    return str(raw.get("id", ""))[:60] if isinstance(raw, dict) else ""


def write_reports(pks: Sequence[int], by_pk: int) -> None:
    """The reports of visits that were written up or added to in the barn, one after another."""
    by = User.objects.get(pk=by_pk)
    with timezone.override(the_business().zone):
        for visit in visits().filter(pk__in=pks, status=Visit.Status.COMPLETED):
            write_visit_report(visit=visit, at=timezone.now(), by=by, anew=visit.report is not None)


@audit.action
def settle(*, event: BarnEvent, take: bool, reason: str = "", at: datetime, by: User) -> BarnEvent:
    """A person decides on an open entry: it is taken after all, or left with a reason; one that was taken is seen."""
    event = BarnEvent.objects.select_for_update(of=("self",)).select_related("phone", "person").get(pk=event.pk)
    if event.state != State.OPEN:
        raise Refused("This entry is decided already.")
    if take and not event.is_applied:
        event.visit = _visit(event.visit_id)
        _take(event, anyway=True)
        if not event.is_applied:
            raise Refused(event.why)
        if _changes_the_record(event) and event.visit_id is not None:
            later(write_reports, [event.visit_id], by.pk)
    elif not take and not event.is_applied and not reason.strip():
        raise Refused("Say why the entry is left: what somebody wrote down in the barn is not put away without a word.")
    event.state, event.settled_at, event.settled_by, event.settled_reason = State.SETTLED, at, by, reason.strip()
    event.save()
    audit.record("entry decided", event, at=at, by=by, changes={"kind": event.kind, "taken": event.is_applied})
    return event
