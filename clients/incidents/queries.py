from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.incidents.models import Incident


def incidents() -> QuerySet[Incident]:
    return Incident.objects.select_related("animal", "barn", "written_by")


def get_incident_or_404(request: HttpRequest, pk: int) -> Incident:
    """The door to an incident note, which speaks of health."""
    demand(request, Power.SEE_HEALTH)
    rows = incidents().select_related("stop_note").prefetch_related("additions__written_by", "papers")
    return get_object_or_404(rows, pk=pk)
