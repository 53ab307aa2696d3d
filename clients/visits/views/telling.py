"""The day before: a drafted message for each who waits for us, sent from the phone's own app, marked by hand."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from clients.visits.actions import mark_told
from clients.visits.messages import coming_messages
from clients.visits.models import Told
from clients.visits.queries import visits_on
from clients.visits.views.doors import read_day


@require_GET
@needs(Power.CHANGE_CARE)
def tell(request: StaffRequest, day: str) -> HttpResponse:
    on, business = read_day(day), the_business()
    drafts = coming_messages(list(visits_on(on)), on, business)
    return render(request, "clients/visits/tell.html", {"day": on, "drafts": drafts, "business": business})


@require_POST
@needs(Power.CHANGE_CARE)
def tell_told(request: StaffRequest, day: str, person_pk: int) -> HttpResponse:
    on = read_day(day)
    drafts = coming_messages(list(visits_on(on)), on, the_business())
    draft = next((each for each in drafts if each.person.pk == person_pk), None)
    if draft is None:
        raise Http404("Nobody like that is to be told.")
    mark_told(message=draft, what=Told.What.COMING, at=timezone.now(), by=request.user)
    messages.success(request, f"{draft.person} is told.")
    return redirect(reverse("clients:tell", args=[day]))
