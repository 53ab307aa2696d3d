from datetime import date
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from clients.rounds.actions import make_round_sheet, order_round, plan_round
from clients.rounds.map_tiles import tiles_under
from clients.rounds.models import DayRound
from clients.rounds.queries import (
    all_visits,
    days_around,
    failed_days,
    get_practitioner_or_404,
    has_open_visits,
    is_out_of_date,
    key_of,
    map_of,
    round_of,
    stops_on,
)
from clients.rounds.shown import sheet_context
from clients.visits.queries import practitioners
from clients.visits.views.doors import read_day


@require_GET
def round_page(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    found = round_of(on, practitioner)
    before, after = days_around(on)
    context = {
        "day": on,
        "practitioner": practitioner,
        "several": practitioners().count() > 1,
        "before": before,
        "after": after,
        "today": timezone.localdate(),
        "round": found,
        "may_fail": _may_fail(request, on, practitioner),
        "failed": failed_days(on, practitioner),
    }
    if found is None:
        context["waiting"] = stops_on(on, practitioner)
    else:
        context |= sheet_context(found, all_visits(found))
        context["is_out_of_date"] = is_out_of_date(found)
        context |= _map(found, the_business())
    response = render(request, "clients/rounds/round.html", context)
    if context.get("tiles"):
        # this page alone may load pictures of that one host
        response._csp_update = {"img-src": [_host_of(the_business().tile_address)]}  # type: ignore[attr-defined]
    return response


def _map(found: DayRound, business: Business) -> dict[str, object]:
    drawing = map_of(found, business)
    tiles = tiles_under(drawing, business.tile_address) if drawing and business.tile_address else []
    return {"drawing": drawing, "tiles": tiles, "tile_credit": business.tile_credit if tiles else ""}


def _host_of(address: str) -> str:
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}"


def _may_fail(request: StaffRequest, on: date, practitioner: User) -> bool:
    is_ahead = request.user.may(Power.CHANGE_CARE) and on >= timezone.localdate()
    return is_ahead and has_open_visits(on, practitioner)


@require_POST
def round_plan(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    planned = plan_round(day=on, practitioner=practitioner, at=timezone.now(), by=request.user)
    left = len(planned.unplaced)
    said = (
        f"{left} stop{'s do' if left > 1 else ' does'} not fit; the reason stands below."
        if left
        else "Every stop fits."
    )
    messages.success(request, f"The round is planned. {said}")
    return redirect("clients:round", day, pk)


@require_POST
def round_order(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    """One stop goes one place up or down; the day is timed anew in that order."""
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    found = round_of(on, practitioner)
    if found is None:
        raise Http404("This day has no planned round.")
    order = [key_of(stop) for stop in found.stops.all()]
    moved = request.POST.get("up") or request.POST.get("down") or ""
    if moved in order:
        at = order.index(moved)
        to = at - 1 if "up" in request.POST else at + 1
        if 0 <= to < len(order):
            order.insert(to, order.pop(at))
    order_round(day=on, practitioner=practitioner, order=order, at=timezone.now(), by=request.user)
    return redirect("clients:round", day, pk)


@require_POST
def round_sheet(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    found = round_of(on, practitioner)
    if found is None:
        raise Http404("This day has no planned round.")
    document = make_round_sheet(day_round=found, at=timezone.now(), by=request.user)
    return redirect("backoffice:document", document.pk)
