"""Who may sign a form, and as what, on a day."""

from collections.abc import Iterator
from datetime import date

from backoffice.business.models import Business
from clients.animals.models import Animal
from clients.animals.queries import horses_owned_by, owners_on
from clients.paperwork.facts import Work
from clients.paperwork.filling import filled
from clients.paperwork.gathering import gather, is_too_young
from clients.paperwork.models import Form, Signature
from clients.paperwork.paper_rules import authority_of
from clients.people.models import Person

Capacity = Signature.Capacity


def capacities_of(form: Form, *, on: date, business: Business) -> list[Signature.Capacity]:
    """As what the form's signer may sign it on that day; nothing when they may not."""
    named = form.wording_version.signed_by
    return [capacity for capacity in all_capacities(form, on, business) if not named or capacity in named]


def all_capacities(form: Form, on: date, business: Business) -> Iterator[Signature.Capacity]:
    """As what the signer stands around the horse, whatever the wording asks for."""
    signer = form.signer
    if is_too_young(signer, on, business.signing_age):
        if signer.guardian is not None and _may_stand_for(signer, form.animal, on):
            yield Capacity.GUARDIAN
        return
    if form.animal is None:
        yield Capacity.ORGANIZATION if signer.kind == Person.Kind.ORGANIZATION else Capacity.SELF
        return
    owners = [share.person for share in owners_on([form.animal], on)[form.animal.pk]]
    is_guardian = any(owner.guardian_id == signer.pk for owner in owners)
    if signer in owners:
        if signer.kind == Person.Kind.ORGANIZATION:
            yield Capacity.ORGANIZATION
        else:
            yield Capacity.OWNER if len(owners) == 1 else Capacity.CO_OWNER
    if is_guardian:
        yield Capacity.GUARDIAN
    if signer not in owners and not is_guardian and _has_authority(form.animal, signer, on):
        yield Capacity.AGENT


def _may_stand_for(signer: Person, animal: Animal | None, on: date) -> bool:
    if animal is None:
        return True
    return any(share.person == signer for share in owners_on([animal], on)[animal.pk])


def _has_authority(animal: Animal, person: Person, on: date) -> bool:
    facts = gather([animal], on).facts_of(animal, Work(kind="", uses_machine=False))
    return authority_of(facts, person.pk, on) is not None


def name_to_type(form: Form, capacity: str) -> str:
    """The name that the signature must carry; empty for an organization, for which anybody signs by name."""
    if capacity == Capacity.ORGANIZATION:
        return ""
    if capacity == Capacity.GUARDIAN and form.signer.guardian is not None:
        return form.signer.guardian.name
    return form.signer.name


def _horses_of(owner: Person, on: date) -> str:
    """“Duke, Rook and Clementine”: what an authority over all horses of an owner speaks of on that day."""
    names = sorted(share.animal.name for share in horses_owned_by(owner, on))
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def text_of(form: Form, *, on: date, business: Business) -> str:
    """The exact text to read and sign: the wording with its fields filled as of that day."""
    owners = [share.person.name for share in owners_on([form.animal], on)[form.animal.pk]] if form.animal else []
    barn = form.barn or (form.animal.barn if form.animal else None)
    version = form.wording_version
    text = filled(
        version.text,
        {
            "horse": form.animal.name if form.animal else _horses_of(form.signer, on),
            "owner": " and ".join(owners) or form.signer.name,
            "signer": form.signer.name,
            "barn": barn.name if barn else "",
            "business": business.name,
            "agent": form.agent.name if form.agent else "",
            "cap": f"{business.currency} {form.cap_amount:.2f}" if form.cap_amount is not None else "",
        },
    )
    return with_warning(text, version.warning, version.warning_source, version.warning_on)


def with_warning(text: str, warning: str, source: str, of: date | None) -> str:
    """The text with the statutory warning under it, as it was pasted, with where it was found and when."""
    if not warning or of is None:
        return text
    return f"{text}\n\n{warning}\n\n(Pasted from {source}, {of:%Y-%m-%d}.)"
