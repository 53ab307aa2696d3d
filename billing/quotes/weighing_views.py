"""Pages beside the comparison: the days lined up, hire against visits, and what each option drives."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.refusal import Refused
from billing.quotes import options
from billing.quotes.driving import work_out_driving
from billing.quotes.models import Quote
from billing.quotes.queries import get_option_or_404, get_quote_or_404
from billing.quotes.weighing import LONGEST_MOVE, against, linings_of, shifts_of


@require_GET
def quote_line_up(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_quote_or_404(request, pk)
    shown = {
        "quote": found,
        "linings": linings_of(found, on=timezone.localdate()),
        "longest": LONGEST_MOVE,
        "changeable": found.state == Quote.State.DRAFT and request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/quotes/line_up.html", shown)


@require_POST
def option_line_up(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    shifts = shifts_of(option, on=timezone.localdate())
    if not shifts:
        raise Refused("No move of the days would save a stop.")
    options.line_up_option(option=option, shifts=shifts, at=timezone.now(), by=request.user)
    messages.success(request, f"The days of “{option.name}” are lined up.")
    return redirect("billing:quote-line-up", option.quote_id)


@require_POST
def option_line_up_undo(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    options.line_up_option(option=option, shifts={}, at=timezone.now(), by=request.user)
    messages.success(request, f"All horses of “{option.name}” start on the first day again.")
    return redirect("billing:quote-line-up", option.quote_id)


@require_GET
def quote_hire(request: StaffRequest, pk: int) -> HttpResponse:
    """Hire against visits, side by side."""
    found = get_quote_or_404(request, pk)
    visits, hire = request.GET.get("visits", ""), request.GET.get("hire", "")
    shown = {"quote": found, "against": against(found, visits, hire, on=timezone.localdate())}
    return render(request, "billing/quotes/hire_against.html", shown)


@require_POST
def quote_driving(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.SEE_MARGINS)
    found = get_quote_or_404(request, pk)
    work_out_driving(quote=found, at=timezone.now(), by=request.user)
    return redirect(f"{found.get_absolute_url()}#only-for-you")
