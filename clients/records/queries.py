from datetime import date

from django.db.models import Min, QuerySet

from clients.animals.models import Animal, Ownership
from clients.incidents.models import Incident
from clients.paperwork.models import Decision, Form, StopNote, VetReferral
from clients.visits.models import EarlierWork, Visit


def visits_told(animal: Animal) -> QuerySet[Visit]:
    """Every visit with its sessions and areas, the oldest first; seven queries whatever their number."""
    rows = animal.visits.select_related("service", "barn", "report", "arrival", "practitioner")
    related = ("sessions__service", "sessions__areas__applicator", "photos__document", "earlier_reports")
    return rows.prefetch_related(*related).order_by("day", "pk")


def earlier_told(animal: Animal) -> QuerySet[EarlierWork]:
    return animal.earlier_work.select_related("service").order_by("day", "pk")


def decisions_told(animal: Animal) -> QuerySet[Decision]:
    return animal.decisions.order_by("for_day", "decided_at", "pk")


def stop_notes_told(animal: Animal) -> QuerySet[StopNote]:
    return animal.stop_notes.select_related("opened_by", "closed_by").order_by("opened_at", "pk")


def incidents_told(animal: Animal) -> QuerySet[Incident]:
    rows = animal.incidents.select_related("barn", "written_by").prefetch_related("additions__written_by", "papers")
    return rows.order_by("happened_at", "pk")


def referrals_told(animal: Animal) -> QuerySet[VetReferral]:
    return animal.referrals.select_related("practice", "document").prefetch_related("calls").order_by("asked_on", "pk")


def forms_told(animal: Animal) -> QuerySet[Form]:
    rows = animal.forms.select_related("wording_version__wording", "signature")
    return rows.exclude(state=Form.State.TO_SIGN).order_by("valid_from", "pk")


def owned_since(animal: Animal, on: date) -> date | None:
    """The first day on which any owner of that day was an owner: what lies before belongs to earlier owners."""
    owners = Ownership.objects.on(on).filter(animal=animal).values("person")
    since: date | None = animal.ownerships.filter(person__in=owners).aggregate(first=Min("since"))["first"]
    return since


def has_earlier_owner(animal: Animal, on: date) -> bool:
    """Whether somebody owned the horse before anybody who owns it that day did."""
    since = owned_since(animal, on)
    return since is not None and animal.ownerships.filter(since__lt=since).exists()
