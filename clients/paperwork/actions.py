from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date, datetime
from typing import TypedDict, Unpack

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.animals.actions import say_day, today_of
from clients.animals.models import Animal
from clients.paperwork.facts import Facts, Look, MachineFacts, Person, Spending, as_record
from clients.paperwork.filling import unknown_fields
from clients.paperwork.gathering import gather
from clients.paperwork.models import Decision, Form, PlaceLaw, StopNote, Wording, WordingVersion
from clients.paperwork.permission import Permission, Reason, permission_to_work
from clients.paperwork.queries import Followed, Offered, newest_version, work_of
from clients.paperwork.starters import STARTERS
from clients.people.models import Person as PersonRow

LONGEST_TEXT = 20_000


class Handed(TypedDict, total=False):
    """What other features know and hand in. `stop_sign_seen` is the look-over on arrival; absent, nobody looked.

    `ordered_by` is whoever ordered, where that may be an agent; `spending` comes from billing, and absent means ask.
    """

    minutes: int
    places: Sequence[str]
    plan: Followed | None
    practitioner: int | None
    ordered_by: PersonRow | None
    spending: Spending | None
    machine: MachineFacts | None
    stop_sign_seen: bool | None


@audit.action
def decide(
    *,
    animal: Animal,
    door: str,
    on: date,
    service: Offered,
    at: datetime,
    by: User | None,
    override_reason: str = "",
    **handed: Unpack[Handed],
) -> Decision:
    """Go through a door: the decision is stored with all its facts, or refused with all its reasons.

    Hold is never overridden. Ask takes a reason and somebody who may override it.
    """
    facts = _facts(animal, door, on, service, handed)
    permission = permission_to_work(facts)
    if permission.is_hold:
        raise Refused(f"{animal}: hold. {_sentences(permission.reasons)}")
    reason = "" if permission.is_ready else _reason_to_go_on(animal, permission, override_reason, by)
    return _store(animal, door, facts, permission, reason, at=at, by=by)


@audit.action
def note_decision(
    *,
    animal: Animal,
    door: str,
    on: date,
    service: Offered,
    at: datetime,
    by: User | None,
    override_reason: str = "",
    **handed: Unpack[Handed],
) -> Decision:
    """Store what permission says at a door that refuses nobody: a quote, an acceptance, work that is already done.

    `override_reason` is what somebody who may go on after "ask" gave for it there and then.
    """
    facts = _facts(animal, door, on, service, handed)
    return _store(animal, door, facts, permission_to_work(facts), override_reason, at=at, by=by)


def _facts(animal: Animal, door: str, on: date, service: Offered, handed: Handed) -> Facts:
    work = work_of(
        service,
        plan=handed.get("plan"),
        minutes=handed.get("minutes"),
        places=handed.get("places", ()),
        practitioner=handed.get("practitioner"),
        for_hire=door == Decision.Door.HIRE,
    )
    person = handed.get("ordered_by")
    return replace(
        gather([animal], on).facts_of(animal, work),
        ordered_by=Person(person.pk, person.name) if person else None,
        spending=handed.get("spending"),
        machine=handed.get("machine"),
        look=_look(door, handed.get("stop_sign_seen")),
    )


def _look(door: str, stop_sign_seen: bool | None) -> Look:
    if stop_sign_seen is None:
        return Look.MISSING if door == Decision.Door.BARN else Look.NOT_DUE
    return Look.SEEN if stop_sign_seen else Look.CLEAR


def _reason_to_go_on(animal: Animal, permission: Permission, given: str, by: User | None) -> str:
    sentences = _sentences(permission.reasons)
    if not given.strip():
        raise Refused(f"{animal}: ask. {sentences} To go on all the same, write the reason.")
    if by is None or not by.may(Power.OVERRIDE_ASK):
        raise Refused(f"{animal}: ask. {sentences} Only a practitioner may go on without the answer.")
    if len(given.strip()) > 500:
        raise Refused("The reason is longer than 500 characters.")
    return given.strip()


def _sentences(reasons: Sequence[Reason]) -> str:
    return " ".join(reason.sentence for reason in reasons)


def _store(
    animal: Animal, door: str, facts: Facts, permission: Permission, override: str, *, at: datetime, by: User | None
) -> Decision:
    kept = [asdict(reason) for reason in permission.reasons] + [
        {"result": "note", **asdict(note)} for note in permission.notes
    ]
    decision = Decision.objects.create(
        animal=animal,
        door=door,
        for_day=facts.on,
        result=permission.result,
        reasons=kept,
        facts=as_record(facts),
        override_reason=override,
        decided_at=at,
        decided_by=by,
    )
    codes = [reason.code for reason in permission.reasons]
    changes = {"animal": animal.pk, "door": door, "day": facts.on, "result": permission.result.value, "codes": codes}
    audit.record("permission decided", decision, at=at, by=by, changes={**changes, "overridden": bool(override)})
    return decision


# Stop notes


@audit.action
def open_stop_note(*, animal: Animal, seen: str, at: datetime, by: User) -> StopNote:
    """Work stops for the vet: the horse is on hold until the note is closed by name."""
    if not seen.strip():
        raise Refused("Write what was seen, in plain words.")
    note = StopNote.objects.create(animal=animal, seen=seen.strip(), opened_at=at, opened_by=by)
    audit.record("stop note opened", note, at=at, by=by, changes={"animal": animal.pk})
    return note


@audit.action
def close_stop_note(*, note: StopNote, vet_said: str, at: datetime, by: User) -> StopNote:
    """The vet was asked: what the vet said is kept, with who wrote it down."""
    note = StopNote.objects.select_for_update().get(pk=note.pk)
    if note.closed_at is not None:
        raise Refused(f"This stop note was already closed on {say_day(today_of(note.closed_at))}.")
    if not vet_said.strip():
        raise Refused("Write what the vet said, and which vet.")
    note.vet_said, note.closed_at, note.closed_by = vet_said.strip(), at, by
    note.save(update_fields=["vet_said", "closed_at", "closed_by"])
    audit.record("stop note closed", note, at=at, by=by, changes={"animal": note.animal_id})
    return note


# Wordings and the law, the practitioner's own


class Terms(TypedDict, total=False):
    """Who may sign a wording and where it is for; a statutory warning as it was pasted, with its source and date."""

    signed_by: list[str]
    place: str
    warning: str
    warning_source: str
    warning_on: date | None


@audit.action
def add_wording(
    *,
    kind: str,
    title: str,
    text: str,
    valid_months: int,
    at: datetime,
    by: User | None,
    is_starter: bool = False,
    **terms: Unpack[Terms],
) -> WordingVersion:
    """A new wording with its first version."""
    if Wording.objects.filter(kind=kind, title__iexact=title.strip()).exists():
        raise Refused("A wording of this kind with this title is already there. Publish a new version of it.")
    wording = Wording.objects.create(kind=kind, title=title.strip())
    return publish_wording_version(
        wording=wording,
        text=text,
        must_sign_again=False,
        valid_months=valid_months,
        at=at,
        by=by,
        is_starter=is_starter,
        **terms,
    )


@audit.action
def publish_wording_version(
    *,
    wording: Wording,
    text: str,
    must_sign_again: bool,
    valid_months: int,
    at: datetime,
    by: User | None,
    is_starter: bool = False,
    **terms: Unpack[Terms],
) -> WordingVersion:
    """The next version. Signed forms keep theirs; forms not yet signed carry the new text from now on."""
    newest = newest_version(wording)
    _refuse_bad_text(text, newest, valid_months, terms)
    _refuse_bad_warning(terms, today_of(at))
    version = WordingVersion.objects.create(
        wording=wording,
        number=newest.number + 1 if newest else 1,
        text=text.strip(),
        must_sign_again=must_sign_again,
        valid_months=valid_months,
        **terms,
        is_starter=is_starter,
        published_on=today_of(at),
    )
    waiting = Form.objects.filter(wording_version__wording=wording, state=Form.State.TO_SIGN)
    moved = waiting.update(wording_version=version)
    changes = {"wording": wording.pk, "number": version.number, "again": must_sign_again, "moved": moved}
    audit.record("wording published", version, at=at, by=by, changes=changes)
    return version


def _refuse_bad_text(text: str, newest: WordingVersion | None, valid_months: int, terms: Terms) -> None:
    if not text.strip():
        raise Refused("The wording has no text.")
    if len(text) > LONGEST_TEXT:
        raise Refused(f"The wording is longer than {LONGEST_TEXT:,} characters.")
    strange = unknown_fields(text)
    if strange:
        raise Refused(f"{{{strange[0]}}} is not a field. The fields are listed beside the text.")
    same = newest is not None and newest.text == text.strip() and newest.valid_months == valid_months
    if same and all(getattr(newest, name) == value for name, value in terms.items()):
        raise Refused("The text is the same as that of the version in use.")


def _refuse_bad_warning(terms: Terms, today: date) -> None:
    if not terms.get("warning"):
        return
    if not terms.get("warning_source") or terms.get("warning_on") is None:
        raise Refused("A statutory warning is pasted with its source and its date: name both.")
    if (terms.get("warning_on") or today) > today:
        raise Refused("The date of the warning's source is still to come.")


@audit.action
def add_starter_wordings(*, at: datetime, by: User | None) -> list[WordingVersion]:
    """A starting text for each kind that has no wording yet; each is marked as one until it is replaced."""
    there = set(Wording.objects.values_list("kind", flat=True))
    return [
        add_wording(
            kind=starter.kind,
            title=starter.title,
            text=starter.text,
            valid_months=starter.valid_months,
            at=at,
            by=by,
            is_starter=True,
        )
        for starter in STARTERS
        if starter.kind not in there
    ]


@audit.action
def record_law(*, place: str, uses_machine: bool, rule: str, source: str, at: datetime, by: User) -> PlaceLaw:
    """What the practitioner found the law to be, with its source; earlier records stay readable."""
    if not place.strip():
        raise Refused("Name the state or country.")
    if not source.strip():
        raise Refused("Name the source: who told you, or where it is written.")
    law = PlaceLaw.objects.create(
        place=place.strip(), uses_machine=uses_machine, rule=rule, source=source.strip(), recorded_on=today_of(at)
    )
    audit.record("law recorded", law, at=at, by=by, changes={"rule": rule, "machine": uses_machine})
    return law
