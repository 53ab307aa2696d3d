"""Forms: asked for, signed once, withdrawn. Kept with the form: its text, who signed as what, when, and on what."""

import hashlib
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from dateutil.relativedelta import relativedelta
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.documents.actions import store_document, store_given
from backoffice.documents.bundle import one_pdf
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from backoffice.documents.uploads import Given
from backoffice.links.actions import issue_link, revoke_links
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.actions import say_day, today_of
from clients.animals.models import Animal
from clients.paperwork.letters import send_copy
from clients.paperwork.models import Form, Signature, Wording, WordingVersion
from clients.paperwork.queries import newest_version
from clients.paperwork.signers import all_capacities, capacities_of, name_to_type, text_of
from clients.paperwork.strokes import checked, svg_path
from clients.people.keyed import keyed_digest
from clients.people.models import Barn, Person
from clients.people.names import folded

LINK_GOOD_FOR = timedelta(days=30)
ABOUT_A_HORSE = {Wording.Kind.CONSENT, Wording.Kind.PHOTOS}


@audit.action
def ask_to_sign(
    *,
    version: WordingVersion,
    signer: Person,
    at: datetime,
    by: User | None,
    animal: Animal | None = None,
    barn: Barn | None = None,
    agent: Person | None = None,
    cap: Decimal | None = None,
) -> Form:
    """One form for one signer, to be signed on the device or by private link."""
    kind = version.wording.kind
    newest = newest_version(version.wording)
    if newest is not None and newest.number > version.number:
        raise Refused(f"{version.wording} has a newer wording, version {newest.number}. Ask with that one.")
    here = the_business().place_of_law
    if version.place and version.place.casefold() != here.casefold():
        raise Refused(f"{version.wording} is a wording for {version.place}; your place is {here or 'not set'}.")
    _refuse_missing_parts(kind, animal, barn, agent)
    if animal is not None and animal.died_on is not None:
        raise Refused(f"{animal} died on {say_day(animal.died_on)}; nothing is asked any more.")
    waiting = Form.objects.filter(wording_version__wording=version.wording, signer=signer, animal=animal, barn=barn)
    if waiting.filter(state=Form.State.TO_SIGN, agent=agent).exists():
        raise Refused(f"{signer} already has this form to sign.")
    is_authority = kind == Wording.Kind.AUTHORITY
    form = Form.objects.create(
        wording_version=version,
        animal=animal,
        barn=barn,
        signer=signer,
        agent=agent if is_authority else None,
        cap_amount=cap if is_authority else None,
        made_at=at,
    )
    audit.record("form asked for", form, at=at, by=by, changes={"version": version.pk, "signer": signer.pk})
    return form


def _refuse_missing_parts(kind: str, animal: Animal | None, barn: Barn | None, agent: Person | None) -> None:
    if kind in ABOUT_A_HORSE and animal is None:
        raise Refused("Name the horse that this form is about.")
    if kind == Wording.Kind.RELEASE and barn is None:
        raise Refused("Name the barn that this release is about.")
    if kind == Wording.Kind.AUTHORITY and agent is None:
        raise Refused("Name who may act for the owners.")


@audit.action
def link_to_sign(*, form: Form, at: datetime, by: User) -> str:
    """The token of a new private link for the signer; earlier links to this form close."""
    form = _locked(form)
    _refuse_unless_to_sign(form)
    revoke_links(purpose=PrivateLink.Purpose.FORM, target=form, at=at, by=by)
    _, token = issue_link(purpose=PrivateLink.Purpose.FORM, target=form, at=at, valid_for=LINK_GOOD_FOR, by=by)
    return token


def _locked(form: Form) -> Form:
    rows = Form.objects.select_for_update(of=("self",))
    return rows.select_related("wording_version__wording", "animal__barn", "barn", "signer__guardian", "agent").get(
        pk=form.pk
    )


def _refuse_unless_to_sign(form: Form) -> None:
    if form.state == Form.State.SIGNED:
        raise Refused("This form is already signed. A signed form is never edited.")
    if form.state != Form.State.TO_SIGN:
        raise Refused("This form was withdrawn and can no longer be signed. Ask for a new one.")


@audit.action
def sign_form(
    *,
    form: Form,
    name_typed: str,
    capacity: str,
    strokes: Sequence[object],
    at: datetime,
    device: str = "",
    address: str | None = None,
    link: PrivateLink | None = None,
    witnessed_by: User | None = None,
    read_sha256: str = "",
) -> Form:
    """Keep the signature with the exact text, and the sealed PDF.

    `read_sha256` is the digest of the text that the signer had before them; a text that changed since is refused.
    """
    form, on = locked_to_sign(form), today_of(at)
    text = text_to_sign(form, on=on, name_typed=name_typed, capacity=capacity)
    _refuse_changed_text(text, read_sha256)
    signature = Signature(
        form=form,
        name_typed=" ".join(name_typed.split()),
        capacity=capacity,
        strokes=_drawn(strokes),
        text=text,
        text_sha256=digest_of(text),
        signed_at=at,
        device=device[:300],
        address=address,
        link=link,
        witnessed_by=witnessed_by,
    )
    return keep_signature(form, signature, on=on, by=witnessed_by)


def locked_to_sign(form: Form) -> Form:
    form = _locked(form)
    _refuse_unless_to_sign(form)
    newest = newest_version(form.wording_version.wording)
    if newest is not None and newest.number > form.wording_version.number:
        raise Refused("The wording has a newer version. Ask for a new form with it.")
    return form


def text_to_sign(form: Form, *, on: date, name_typed: str, capacity: str) -> str:
    """The text as it reads on that day. Refused for a name or a capacity that does not fit it."""
    business = the_business()
    _refuse_wrong_signer(form, name_typed, capacity, on, business)
    return text_of(form, on=on, business=business)


def keep_signature(
    form: Form,
    signature: Signature,
    *,
    on: date,
    by: User | None,
    scan: Sequence[Given] = (),
    until: date | None = None,
) -> Form:
    """The form holds from that day on, as long as its wording says, or until an earlier day.

    Its sealed paper shows the signature, or carries the scan behind it.
    """
    signature.full_clean(exclude=["form", "link", "witnessed_by"])
    signature.save(force_insert=True)
    at = signature.signed_at
    form.state, form.valid_from = Form.State.SIGNED, on
    longest = on + relativedelta(months=form.wording_version.valid_months, days=-1)
    form.valid_until = min(longest, until or longest)
    if form.valid_until < on:
        raise Refused("It ends before the day on the paper.")
    form.document = _sealed_copy(form, signature, scan, by=by)
    form.save(update_fields=["state", "valid_from", "valid_until", "document"])
    if by is not None:
        title = form.document.title
        form.scans.set(store_given(kind=Document.Kind.FORM, title=title, given=scan, at=at, by=by))
    changes = {"capacity": signature.capacity, "until": form.valid_until, "sha256": form.document.sha256}
    changes |= {"link": signature.link, "evidence": keyed_digest(form.signer, evidence_of(signature))}
    if scan:
        changes |= {"paper_of": on, "given": [one.given_sha256 for one in scan]}
    via = "private link" if signature.link else "paper" if scan else ""
    audit.record("form signed", form, at=at, by=by, via=via, changes=changes)
    send_copy(form, signature, at=at)
    return form


def evidence_of(signature: Signature) -> list[object]:
    """What the trail keeps a keyed digest of, so that a signature cannot be changed later unnoticed."""
    drawn = [[list(point) for point in stroke] for stroke in signature.strokes]
    moment = signature.signed_at.astimezone(UTC).isoformat()
    evidence: list[object] = [signature.name_typed, signature.capacity, signature.text, drawn, moment, signature.device]
    return [*evidence, signature.paper_signed_on.isoformat()] if signature.paper_signed_on else evidence


def digest_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _refuse_changed_text(text: str, read_sha256: str) -> None:
    if read_sha256 and read_sha256 != digest_of(text):
        raise Refused("The text changed while it was being read. Read it again, then sign.")


def _refuse_wrong_signer(form: Form, name_typed: str, capacity: str, on: date, business: Business) -> None:
    allowed = capacities_of(form, on=on, business=business)
    if not allowed:
        raise Refused(_why_nobody(form, on, business))
    if capacity not in allowed:
        words = " or ".join(f"“{choice.label}”" for choice in allowed)
        raise Refused(f"{form.signer} may sign this as {words} only.")
    wanted = name_to_type(form, capacity)
    if not name_typed.strip():
        raise Refused("The name is missing: type it as it stands on the form.")
    if wanted and folded(name_typed) != folded(wanted):
        raise Refused(f"The name typed differs from the name on the form, {wanted}.")


def _why_nobody(form: Form, on: date, business: Business) -> str:
    signer, named = form.signer, form.wording_version.signed_by_words
    if named and any(all_capacities(form, on, business)):
        return f"{signer} may not sign this wording. It is signed by: {named}."
    if (signer.under_age or signer.born_on is not None) and signer.guardian is None:
        return f"{signer} is too young to sign ({business.signing_age} is the age), and no parent or guardian is named."
    return f"{signer} may not sign for {form.animal}: no owner on {say_day(on)}, and no written authority in force."


def _drawn(strokes: Sequence[object]) -> list[list[tuple[float, float]]]:
    try:
        return checked(list(strokes))
    except ValueError as fault:
        raise Refused(str(fault)) from None


def _sealed_copy(form: Form, signature: Signature, scan: Sequence[Given], *, by: User | None) -> Document:
    title, at = title_of(form), signature.signed_at
    context = {"form": form, "signature": signature, "path": svg_path(signature.strokes), "title": title}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/form.html", context)
    sealed = seal_pdf(one_pdf(paper, scan) if scan else paper, reason="Signed form", at=at)
    return store_document(kind=Document.Kind.FORM, title=title, content=sealed, at=at, by=by, sealed=True)


def title_of(form: Form) -> str:
    return f"{form.wording_version.wording.get_kind_display()}, {form.animal or form.barn or form.signer}"


@audit.action
def withdraw_form(*, form: Form, at: datetime, by: User | None) -> Form:
    """The form no longer holds from this day on, and can no longer be signed. What was signed stays readable."""
    form = _locked(form)
    if form.state == Form.State.WITHDRAWN:
        raise Refused("This form is already withdrawn.")
    before = form.state
    form.state, form.withdrawn_on = Form.State.WITHDRAWN, today_of(at)
    form.save(update_fields=["state", "withdrawn_on"])
    revoke_links(purpose=PrivateLink.Purpose.FORM, target=form, at=at, by=by)
    audit.record("form withdrawn", form, at=at, by=by, changes={"was": before, "on": form.withdrawn_on})
    return form
