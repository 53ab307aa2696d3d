from datetime import date

from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.plans.models import Plan
from clients.plans.queries import plans
from clients.visits.models import Visit
from clients.visits.queries import visits


def get_visit_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Visit:
    """The door to a visit. Pass Power.CHANGE_CARE where it is changed, Power.SEE_HEALTH where its notes show."""
    demand(request, power)
    return get_object_or_404(visits().prefetch_related("barn__windows"), pk=pk)


def get_plan_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Plan:
    demand(request, power)
    return get_object_or_404(plans(), pk=pk)


def read_day(text: str) -> date:
    """A day in an address, such as 2026-03-02."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise Http404("No such day.") from error
    if not 1980 <= day.year <= 2100:
        raise Http404("No such day.")
    return day
