"""Something went wrong: written once, locked, sealed; what becomes known later is added with its day."""

from datetime import datetime

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from backoffice.refusal import Refused
from clients.incidents.models import Addition, Incident
from clients.paperwork.actions import open_stop_note


@audit.action
def write_incident(*, incident: Incident, holds_horse: bool = False, at: datetime, by: User) -> Incident:
    """Save and lock the note, seal its paper, and hold the horse with a stop note where that is asked for."""
    if incident.animal is None and incident.barn is None:
        raise Refused("Name the horse, the place, or both.")
    if incident.happened_at > at:
        raise Refused("The moment is still to come.")
    if not (incident.what.strip() and incident.present.strip() and incident.done.strip()):
        raise Refused("Write what happened, who was there and what was done.")
    if holds_horse:
        if incident.animal is None:
            raise Refused("A stop note holds a horse: name the horse.")
        incident.stop_note = open_stop_note(animal=incident.animal, seen=incident.what[:2000], at=at, by=by)
    incident.written_at, incident.written_by = at, by
    incident.save()
    changes = {"animal": incident.animal_id, "barn": incident.barn_id, "hurt": incident.hurt, "held": holds_horse}
    _seal(incident, at=at, by=by)
    audit.record("incident written down", incident, at=at, by=by, changes=changes)
    return incident


@audit.action
def add_to_incident(*, incident: Incident, text: str, at: datetime, by: User) -> Addition:
    """What became known later. The note itself and its earlier papers stay as they are."""
    if not text.strip():
        raise Refused("Write what is to be added.")
    addition = Addition.objects.create(incident=incident, text=text.strip(), written_at=at, written_by=by)
    _seal(incident, at=at, by=by)
    audit.record("incident added to", incident, at=at, by=by, changes={"addition": addition.pk})
    return addition


def _seal(incident: Incident, *, at: datetime, by: User) -> None:
    title = f"Incident note, {incident.animal or incident.barn}"
    additions = list(incident.additions.select_related("written_by"))
    context = {"incident": incident, "additions": additions, "title": title, "sealed_at": at}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/incident.html", context)
    sealed = seal_pdf(paper, reason="Incident note", at=at)
    kind = Document.Kind.INCIDENT
    incident.papers.add(store_document(kind=kind, title=title, content=sealed, at=at, by=by, sealed=True))
