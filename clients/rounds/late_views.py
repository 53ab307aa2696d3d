"""Running late: the new times of what is left today, and a drafted message for each who waits; no time is changed."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from clients.rounds.late_queries import late_messages, late_stops
from clients.rounds.queries import get_practitioner_or_404, round_of
from clients.visits.actions import mark_told
from clients.visits.models import Told
from clients.visits.views.doors import read_day

CHOICES = (10, 20, 30, 45, 60)
MOST = 300


def _minutes(text: str) -> int:
    return int(text) if text.isdecimal() and 0 < int(text) <= MOST else 0


@require_GET
def round_late(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    found = round_of(on, practitioner)
    if found is None:
        raise Http404("This day has no planned round.")
    minutes, business = _minutes(request.GET.get("minutes", "")), the_business()
    stops = late_stops(found, minutes, business) if minutes else []
    context = {
        "round": found,
        "day": on,
        "practitioner": practitioner,
        "choices": CHOICES,
        "minutes": minutes,
        "stops": stops,
        "drafts": late_messages(stops, on, business),
    }
    return render(request, "clients/rounds/late.html", context)


@require_POST
def round_late_told(request: StaffRequest, day: str, pk: int, person_pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    found, minutes, business = round_of(on, practitioner), _minutes(request.POST.get("minutes", "")), the_business()
    stops = late_stops(found, minutes, business) if found and minutes else []
    draft = next((each for each in late_messages(stops, on, business) if each.person.pk == person_pk), None)
    if draft is None:
        raise Http404("Nobody like that is to be told.")
    mark_told(message=draft, what=Told.What.LATE, at=timezone.now(), by=request.user)
    messages.success(request, f"{draft.person} is told.")
    return redirect(f"{reverse('clients:round-late', args=[day, pk])}?minutes={minutes}#tell")
