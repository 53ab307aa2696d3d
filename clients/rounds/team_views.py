"""The rounds of everybody on one day side by side, and sharing the day out anew."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from clients.rounds.queries import days_around, rounds_of_all
from clients.rounds.team_day import Shared, share_out, take_sharing
from clients.visits.views.doors import read_day


@require_http_methods(["GET", "POST"])
def team_rounds(request: StaffRequest, day: str) -> HttpResponse:
    """POST shares the day out and shows the proposal; with `take` it is taken, if it is still the same."""
    demand(request, Power.CHANGE_CARE if request.method == "POST" else Power.SEE_CARE)
    on = read_day(day)
    shared: Shared | None = None
    if request.method == "POST" and "take" in request.POST:
        shown = [
            (int(a), int(b))
            for a, _, b in (each.partition(":") for each in request.POST.getlist("move"))
            if a.isdecimal() and b.isdecimal()
        ]
        count = take_sharing(day=on, shown=shown, at=timezone.now(), by=request.user)
        messages.success(request, f"{count} visit{'' if count == 1 else 's'} handed on; the rounds are planned anew.")
        return redirect("clients:team-rounds", day)
    if request.method == "POST":
        shared = share_out(on, the_business())
    before, after = days_around(on)
    context = {
        "day": on,
        "before": before,
        "after": after,
        "today": timezone.localdate(),
        "rounds": rounds_of_all(on),
        "shared": shared,
    }
    return render(request, "clients/rounds/team_rounds.html", context)
