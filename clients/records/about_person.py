"""What the care side holds about a person, each record with how it is emptied."""

from collections.abc import Iterator
from datetime import date
from functools import partial

from backoffice.keeping.rules import Held
from backoffice.letters.queries import letters_of
from clients.animals.models import Animal, Ownership, Role
from clients.kit.models import Handover, Hire
from clients.paperwork.models import Form, Signature
from clients.people.models import Barn, Person, PersonKey
from clients.people.names import erased_name
from clients.records.about_horse import held_about_horse
from clients.visits.models import Visit

NOT_ALONE = "Others own, or owned, this horse: its record belongs to the horse."
PAPER_OF_ANOTHER = "It is the paper of another person, who signed it."


def held_about(person: Person, on: date) -> Iterator[Held]:
    """Every record of the care side about a person, in the order of the table of kinds."""
    if person.erased_on is None:
        yield _contact(person, on)
    yield from _letters(person)
    yield from _forms(person, on)
    yield from _handovers(person)
    for animal in animals_ever_of(person):
        others = animal.ownerships.exclude(person=person).exists()
        yield from held_about_horse(animal, bound=NOT_ALONE if others else "")


def animals_ever_of(person: Person) -> list[Animal]:
    return list(Animal.objects.filter(ownerships__person=person).distinct().order_by("name", "pk"))


def in_the_way(person: Person, on: date) -> Iterator[str]:
    """Sentences on work that is not over: it is ended first, by name, before the person can be erased."""
    owned = Ownership.objects.on(on).filter(person=person).values("animal")
    ahead = Visit.objects.filter(animal__in=owned, status__in=[Visit.Status.PENCILLED, Visit.Status.BOOKED])
    for visit in ahead.select_related("animal").order_by("day")[:5]:
        yield f"A visit is still open: {visit}. Cancel it first."
    for ward in person.wards.filter(erased_on__isnull=True):
        yield f"They sign and pay for {ward}. Name another parent or guardian first."
    for role in Role.objects.on(on).filter(person=person).select_related("animal"):
        yield f"They are written down as {role.get_kind_display().lower()} of {role.animal}. Change that first."
    for hire in Hire.objects.filter(person=person, returned_on__isnull=True).select_related("machine"):
        yield f"{hire.machine} is out with them. Take it back first."


def _contact(person: Person, on: date) -> Held:
    told = {
        "name": person.name,
        "kind": person.get_kind_display(),
        "phone": person.phone,
        "email": person.email,
        "address": person.address,
        "born_on": person.born_on,
        "note": person.note,
        "asked_on": person.asked_on,
        "asked_about": person.asked_about,
        "horses_owned": [
            {"horse": share.animal.name, "share": share.share_text, "since": share.since, "until": share.until}
            for share in person.ownerships.select_related("animal").order_by("since", "pk")
        ],
    }
    return Held("contact", "Name, address, phone, notes", on, told, partial(_empty_contact, person, on))


def _letters(person: Person) -> Iterator[Held]:
    for letter in letters_of(person, person.email):
        on = letter.made_at.date()
        told = {"to": letter.to, "subject": letter.subject, "text": letter.text, "on": on}
        yield Held("letter", f"Letter: {letter}", on, told, letter.delete)


def _empty_contact(person: Person, on: date) -> None:
    Person.objects.filter(pk=person.pk).update(
        name=erased_name(person.pk),
        phone="",
        email="",
        address="",
        born_on=None,
        guardian=None,
        note="",
        asked_on=None,
        asked_about="",
        asked_barn=None,
        wants_deposit=False,
        erased_on=on,
    )
    Barn.objects.filter(contact=person).update(contact=None)


def _forms(person: Person, on: date) -> Iterator[Held]:
    rows = Form.objects.select_related("wording_version__wording", "animal", "barn", "signer", "document", "signature")
    for form in rows.filter(signer=person).order_by("made_at", "pk"):
        signature = getattr(form, "signature", None)
        if signature is None and form.document is None:
            yield Held("unsigned", _title(form), form.made_at.date(), _told(form), form.delete)
        elif signature is None or signature.name_typed:
            papers = tuple(paper for paper in (form.document, *form.scans.all()) if paper and paper.erased_at is None)
            counted = form.withdrawn_on or form.valid_until
            yield Held("form", _title(form), counted, _told(form), partial(_empty_form, form), papers)
    for form in rows.filter(agent=person).exclude(signer=person).order_by("made_at", "pk"):
        words = f"{_title(form)}, naming them as agent"
        yield Held("form", words, None, _told_to_agent(form), _stays_as_it_is, (), PAPER_OF_ANOTHER)


def _handovers(person: Person) -> Iterator[Held]:
    """What they signed and how a machine came back: words go, that it was out with somebody stays."""
    for hire in Hire.objects.filter(person=person).select_related("machine", "handover__document").order_by("pk"):
        handover = getattr(hire, "handover", None)
        if not (hire.condition_back or hire.missing_back or (handover and handover.name_typed)):
            continue
        told: dict[str, object] = {"condition_back": hire.condition_back, "missing_back": hire.missing_back}
        if handover is not None:
            told |= {name: getattr(handover, name) for name in ("ticked", "name_typed", "signed_at", "strokes")}
        papers = (handover.document,) if handover and handover.document.erased_at is None else ()
        counted = hire.returned_on or hire.until
        yield Held("form", f"Hire of {hire.machine}", counted, told, partial(_empty_hire, hire), papers)


def _empty_hire(hire: Hire) -> None:
    Hire.objects.filter(pk=hire.pk).update(condition_back="", missing_back="")
    Handover.objects.filter(hire=hire).update(name_typed="", strokes=[])


def _stays_as_it_is() -> None:
    """A record that is bound is never emptied."""


def _told_to_agent(form: Form) -> dict[str, object]:
    return {"form": form.wording_version.wording.get_kind_display(), "from": form.valid_from, "until": form.valid_until}


def _title(form: Form) -> str:
    about = form.animal or form.barn
    title = form.wording_version.wording.title
    return f"{title}, {about}" if about else title


def _told(form: Form) -> dict[str, object]:
    signature = getattr(form, "signature", None)
    told: dict[str, object] = {
        "form": form.wording_version.wording.get_kind_display(),
        "about": str(form.animal or form.barn or ""),
        "state": form.get_state_display(),
        "from": form.valid_from,
        "until": form.valid_until,
        "withdrawn_on": form.withdrawn_on,
    }
    if signature is None:
        return told
    signed = ("name_typed", "text", "signed_at", "paper_signed_on", "device", "address", "strokes")
    return {
        **told,
        "signed_as": signature.get_capacity_display(),
        **{name: getattr(signature, name) for name in signed},
    }


def _empty_form(form: Form) -> None:
    """The evidence goes; that a form of this wording held for some days stays. The last one takes the key along."""
    Signature.objects.filter(form=form).update(
        name_typed="", strokes=[], text="", text_sha256="", device="", address=None, link=None
    )
    if not Signature.objects.filter(form__signer=form.signer).exclude(name_typed="").exists():
        PersonKey.objects.filter(person=form.signer).delete()
