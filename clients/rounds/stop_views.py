from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from clients.rounds.models import DayRound, RoundStop
from clients.rounds.queries import get_practitioner_or_404, key_of, round_of
from clients.rounds.stop_actions import lock_stop
from clients.visits.actions import note_list
from clients.visits.models import StopList
from clients.visits.stop_lists import LISTS
from clients.visits.views.doors import read_day


def _stop_or_404(request: StaffRequest, day: str, pk: int) -> tuple[DayRound, RoundStop]:
    """The stop whose key was sent, so that a page opened before a new plan still finds it."""
    demand(request, Power.CHANGE_CARE)
    found = round_of(read_day(day), get_practitioner_or_404(request, pk))
    stops = {key_of(stop): stop for stop in found.stops.all()} if found else {}
    stop = stops.get(request.POST.get("stop", ""))
    if found is None or stop is None:
        raise Http404("No such stop on this day.")
    return found, stop


@require_POST
def round_lock(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    """`lock` keeps the stop at its time; without it the time is let go."""
    _, stop = _stop_or_404(request, day, pk)
    is_locked = "lock" in request.POST
    lock_stop(visits=list(stop.visits.all()), is_locked=is_locked, at=timezone.now(), by=request.user)
    messages.success(request, f"{stop.barn} {'stays at its time' if is_locked else 'may be moved again'}.")
    return redirect("clients:round", day, pk)


@require_POST
def round_clean(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    found, stop = _stop_or_404(request, day, pk)
    kind, on = StopList.Kind.CLEANING, found.day
    done = set(request.POST.getlist("done")) & set(LISTS[kind])
    note_list(
        kind=kind,
        day=on,
        practitioner=found.practitioner,
        barn=stop.barn,
        done=done,
        at=timezone.now(),
        by=request.user,
    )
    left = len(LISTS[kind]) - len(done)
    said = "all of the cleaning list is done" if not left else f"{left} of the cleaning list still to do"
    messages.success(request, f"{stop.barn}: {said}.")
    return redirect("clients:round", day, pk)
