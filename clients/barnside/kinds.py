"""One function for each kind of entry. Each does what the form of the same name does, by the same action.

A function returns "" when all is well, or one sentence for the desk when the entry was taken and a person should look.
It raises Refused where the entry cannot be taken as it is: then it is kept until a person decides, and may be asked
again with `anyway`.
"""

import base64
import binascii
import json
from collections.abc import Callable, Mapping
from typing import Any

from backoffice.access.powers import Power
from backoffice.documents.uploads import checked as checked_file
from backoffice.refusal import Refused
from clients.animals.actions import today_of
from clients.animals.measuring import take_measure
from clients.barnside.checking import (
    ListForm,
    SignEntryForm,
    areas_of,
    arrival_of,
    checked,
    how_of,
    measure_of,
    money_of,
)
from clients.barnside.models import BarnEvent, HandMoney
from clients.barnside.people import people_around
from clients.barnside.sheets import areas_done, merge_late, sheet_of, told_clashes
from clients.paperwork.actions import open_stop_note
from clients.paperwork.models import Decision, Form
from clients.paperwork.signing import sign_form
from clients.paperwork.strokes import read_strokes
from clients.visits.actions import (
    ArrivalSeen,
    SessionDone,
    add_photo,
    could_not_work,
    mark_told,
    note_list,
    record_work,
    set_next_visit,
    skip_next_visit,
    stop_for_the_vet,
)
from clients.visits.forms import CouldNotForm, NextForm, StopForm
from clients.visits.messages import Message
from clients.visits.models import StopList, Told, Visit

Kind = StopList.Kind


def take_arrival(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    event.values = arrival_of(event.values)
    return ""


def take_areas(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    event.values = {"areas": areas_of(event.values)}
    return merge_late(event, visit, anyway=anyway)


def take_how(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    event.values = how_of(event.values)
    return merge_late(event, visit, anyway=anyway)


def take_done(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    """The sheet as all devices filled it becomes the visit's record; what permission says of it now is told."""
    if visit.status == Visit.Status.COMPLETED:
        return ""
    if visit.status == Visit.Status.CANCELLED and not anyway:
        raise Refused(f"The visit was called off meanwhile: {visit.cancel_reason or 'no reason given'}")
    sheet = sheet_of(visit)
    if not sheet.arrival:
        raise Refused("The look-over on arrival was not noted on the phone. Write the visit up at the desk.")
    how, reason = sheet.how, _reason_of(event)
    areas = areas_done(sheet.areas.values())
    session = SessionDone(
        service=visit.service,
        areas=areas,
        minutes=how.get("minutes") or (None if areas else visit.minutes),
        ease_before=how.get("ease_before"),
        ease_after=how.get("ease_after"),
        reaction=how.get("reaction") or "",
    )
    _, decision = record_work(
        visit=visit,
        arrival=ArrivalSeen(**sheet.arrival),
        sessions=[session],
        note=how.get("note") or "",
        override_reason=reason,
        at=event.happened_at,
        by=event.person,
        whatever_the_diary_says=anyway,
    )
    return " ".join(filter(None, [_difference(decision, reason), told_clashes(sheet)]))


def _reason_of(event: BarnEvent) -> str:
    """Why they went on after "ask"; empty where they may not."""
    reason = str(event.values.get("override_reason") or "").strip()[:500]
    return reason if event.person.may(Power.OVERRIDE_ASK) else ""


def _difference(decision: Decision, reason: str) -> str:
    if decision.result == "ready" or (decision.result == "ask" and reason):
        return ""
    sentences = " ".join(str(each.get("sentence", "")) for each in decision.reasons)
    return f"The work was done and is recorded; permission says {decision.result}: {sentences}"


def take_could_not(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    said = checked(CouldNotForm(event.values))
    could_not_work(visit=visit, **said, at=event.happened_at, by=event.person)
    return ""


def take_stop(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    """The horse is held in any case, also where the visit is written up already."""
    seen = checked(StopForm(event.values))["seen"]
    if visit.status == Visit.Status.BOOKED:
        stop_for_the_vet(visit=visit, seen=seen, at=event.happened_at, by=event.person)
        return ""
    open_stop_note(animal=visit.animal, seen=seen, at=event.happened_at, by=event.person)
    return f"{visit.animal} is on hold by a stop note; the visit stays {visit.get_status_display().lower()}."


def take_next(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    said = checked(NextForm({"service": visit.service_id, **event.values}))
    at, by = event.happened_at, event.person
    if said["day"]:
        set_next_visit(visit=visit, day=said["day"], service=said["service"], at=at, by=by)
    else:
        skip_next_visit(visit=visit, reason=said["reason"], at=at, by=by)
    return ""


def take_set_up(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    return _list(event, visit, Kind.SET_UP)


def take_cleaned(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    return _list(event, visit, Kind.CLEANING)


def _list(event: BarnEvent, visit: Visit, kind: StopList.Kind) -> str:
    done = checked(ListForm(event.values, kind=kind))["done"]
    note_list(
        kind=kind,
        day=visit.day,
        practitioner=visit.practitioner,
        barn=visit.barn,
        done=done,
        at=event.happened_at,
        by=event.person,
    )
    return ""


def take_sign(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    """Signed on the phone: the text read there must be the text that stands here. Strokes stay with the signature."""
    said = checked(SignEntryForm(event.values))
    form = Form.objects.filter(pk=said["form"]).first()
    if form is None:
        raise Refused("The form that was signed is not here any more.")
    try:
        strokes = list(read_strokes(json.dumps(event.values.get("strokes"))))
    except ValueError as fault:
        raise Refused(str(fault)) from None
    sign_form(
        form=form,
        name_typed=said["name_typed"],
        capacity=said["capacity"],
        strokes=strokes,
        read_sha256=said["read"],
        at=event.happened_at,
        device=event.phone.name,
        witnessed_by=event.person,
    )
    event.values = {"form": form.pk}
    return ""


def take_photo(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    """The picture goes to the documents; the entry keeps its number only."""
    try:
        content = base64.b64decode(str(event.values.get("jpeg") or ""), validate=True)
        given = checked_file(content, photos_only=True)
    except (binascii.Error, ValueError) as fault:
        raise Refused("This photo cannot be read." if isinstance(fault, binascii.Error) else str(fault)) from None
    words = str(event.values.get("words") or "")[:200]
    kept = add_photo(visit=visit, photo=given, words=words, at=event.happened_at, by=event.person)
    event.values = {"document": kept.document_id, "words": words}
    return ""


def take_money(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    said = money_of(event, visit)
    is_twice = bool(said["slip"]) and HandMoney.objects.filter(slip=said["slip"]).exists()
    HandMoney.objects.create(event=event, visit=visit, taken_at=event.happened_at, **said)
    return f"Slip {said['slip']} was given out twice: look at both." if is_twice else ""


def take_told(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    wanted, what = event.values.get("person"), event.values.get("what")
    person = next((person for person, _ in people_around(visit) if person.pk == wanted), None)
    if person is None or what not in Told.What.values:
        raise Refused("It is not said who was told what.")
    mark_told(message=Message(person, (visit,), ""), what=Told.What(what), at=event.happened_at, by=event.person)
    return ""


def take_measured(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    on = today_of(event.happened_at)
    kind, form = measure_of(event.values, str(event.person), on)
    take_measure(
        animal=visit.animal,
        kind=kind,
        value=form.value,
        on=on,
        given_by=form.cleaned_data["given_by"],
        note=form.cleaned_data["note"],
        at=event.happened_at,
        by=event.person,
    )
    return ""


KINDS: Mapping[str, Callable[..., str]] = {
    "arrival": take_arrival,
    "set_up": take_set_up,
    "areas": take_areas,
    "how": take_how,
    "done": take_done,
    "could_not": take_could_not,
    "stop": take_stop,
    "next": take_next,
    "cleaned": take_cleaned,
    "sign": take_sign,
    "photo": take_photo,
    "money": take_money,
    "measure": take_measured,
    "told": take_told,
}

WORDS: Mapping[str, str] = {
    "arrival": "Look-over on arrival",
    "set_up": "Set-up list",
    "areas": "Areas worked",
    "how": "How it went",
    "done": "Visit done",
    "could_not": "Could not work",
    "stop": "Stop and call the vet",
    "next": "Next visit",
    "cleaned": "Cleaning list",
    "sign": "Form signed",
    "photo": "Photo",
    "money": "Money taken",
    "measure": "Measure",
    "told": "Somebody was told",
}


def words_of(values: Mapping[str, Any]) -> list[str]:
    """What an entry says, for a person to read; pictures and strokes are named, not shown."""
    said = []
    for name, value in values.items():
        if name in ("jpeg", "strokes", "read"):
            continue
        if name == "areas" and isinstance(value, list):
            said += [f"{row.get('area')}: {row.get('minutes')} min" for row in value if isinstance(row, dict)]
        elif value not in (None, "", []):
            shown = "yes" if value is True else "no" if value is False else value
            said.append(f"{name.replace('_', ' ').capitalize()}: {shown}")
    return said
