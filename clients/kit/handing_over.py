"""A machine goes out: what whoever takes it has been given and told, line by line, ticked and signed."""

from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from backoffice.refusal import Refused
from clients.kit.actions import note_hours
from clients.kit.models import Handover, Hire, Machine
from clients.kit.queries import why_machine_stays_in
from clients.paperwork.strokes import checked, svg_path

# Common practice, no published source; the maker's manual and the vet come before all of it.
TOLD = (
    "I was shown the machine and have its manual; where this list and the manual differ, the manual decides.",
    "Applicator on the horse before power on; power off before the applicator comes off.",
    "A fault-current protector (GFCI or 30 mA RCD), tested on the day, and a surge protector as the maker asks.",
    "Outdoor leads fully unrolled, no adapters in a chain, nothing in standing water, never a damaged lead or case.",
    "Phones, keys, cards and other electronics 18 in (46 cm) away while it runs.",
    "Whoever carries an implanted device or is pregnant keeps away until its maker and a doctor advise.",
    "Only the horses and places agreed; never a horse that waits for the vet's word.",
    "Anything unusual: power off, and call the vet. It does not take the place of a vet.",
    "Kept out of heat, cold and wet; taken to nobody else; given back on the day agreed.",
)


def lines_for(machine: Machine) -> list[str]:
    """What is ticked: the machine and each of its applicators by name, then what was told."""
    number = f", serial number {machine.serial_number}" if machine.serial_number else ""
    given = [f"I have {machine}{number}, with its lead and case, looked over together."]
    given += [f"I have its applicator: {applicator}." for applicator in machine.applicators.filter(is_in_use=True)]
    return [*given, *TOLD]


@audit.action
def hand_over(
    *,
    hire: Hire,
    ticked: Collection[str],
    name_typed: str,
    strokes: Sequence[object],
    hours: Decimal | None = None,
    at: datetime,
    by: User,
) -> Handover:
    """Keep what was ticked and the signature, and seal the sheet. Refused while a line is open or the machine unfit."""
    hire = Hire.objects.select_for_update(of=("self",)).select_related("machine", "person").get(pk=hire.pk)
    lines = lines_for(hire.machine)
    _refuse_early(hire, at)
    if not set(lines) <= set(ticked):
        raise Refused("Every line is ticked before the machine goes out.")
    if not name_typed.strip():
        raise Refused("The name is missing: who takes the machine types it.")
    try:
        drawn = checked(list(strokes))
    except ValueError as fault:
        raise Refused(str(fault)) from None
    if hours is not None:
        note_hours(machine=hire.machine, hours=hours, at=at, by=by)
    handover = Handover(
        hire=hire,
        ticked=lines,
        hours=hours,
        name_typed=" ".join(name_typed.split()),
        strokes=drawn,
        signed_at=at,
        witnessed_by=by,
    )
    handover.document = _sealed(handover, by=by)
    handover.save(force_insert=True)
    changes = {"hire": hire.pk, "machine": hire.machine_id, "sha256": handover.document.sha256}
    audit.record("machine handed over", handover, at=at, by=by, changes=changes)
    return handover


def _refuse_early(hire: Hire, at: datetime) -> None:
    if Handover.objects.filter(hire=hire).exists():
        raise Refused("This handover is signed already.")
    if hire.returned_on is not None:
        raise Refused("This machine is back already.")
    why = why_machine_stays_in(hire.machine, local_date(at))
    if why:
        raise Refused(why)


def _sealed(handover: Handover, *, by: User) -> Document:
    title, at = f"Handover of {handover.hire.machine}, {handover.hire.person}", handover.signed_at
    context = {"handover": handover, "path": svg_path(handover.strokes), "title": title}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/handover.html", context)
    content = seal_pdf(paper, reason="Handover sheet", at=at)
    return store_document(kind=Document.Kind.HANDOVER, title=title, content=content, at=at, by=by, sealed=True)
