from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from clients.paperwork.own_queries import own_papers_to_renew
from clients.visits.monday import end_of_next_week, mondays_list


@require_GET
@needs(Power.SEE_HEALTH)
def monday(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    until = end_of_next_week(today)
    context = {"rounds": mondays_list(today), "until": until, "own_papers": own_papers_to_renew(until, on=today)}
    return render(request, "clients/visits/monday.html", context)
