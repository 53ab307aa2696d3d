"""Options of a draft: one tap, drawn by hand, within a budget, hidden, preferred, taken out."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.refusal import Refused
from backoffice.ui import words
from backoffice.ui.forms import render_form, showing_refusal
from billing.quotes import options
from billing.quotes.drawing import Drawing, drawing_of
from billing.quotes.fitting import fitting
from billing.quotes.models import Option, Quote
from billing.quotes.option_forms import FittingForm, PreferForm
from billing.quotes.queries import get_option_or_404, get_quote_or_404, horses_of, one_tap_options


@require_POST
def option_quick(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    wanted = request.POST.get("key", "")
    offered = {each.key: each for each in one_tap_options(found, on=timezone.localdate())}
    if wanted not in offered:
        raise Refused("This option is in the quote already, or cannot be priced.")
    chosen = offered[wanted]
    options.add_suggestion(quote=found, suggestion=chosen, at=timezone.now(), by=request.user)
    return redirect(found.get_absolute_url() + "#options")


@require_http_methods(["GET", "POST"])
def option_fitting(request: StaffRequest, pk: int) -> HttpResponse:
    """What covers most within an amount, added as an option."""
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    form = FittingForm(request.POST or None, initial={"amount": found.budget})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            return _add_fitting(request, found, form)
    return render_form(
        request,
        form,
        heading="What fits an amount",
        kicker=found.title,
        intro="What covers most of the guideline for the money; then the cheapest, then the fewest visits.",
        submit="Find it",
        back=found.get_absolute_url(),
    )


def _add_fitting(request: StaffRequest, found: Quote, form: FittingForm) -> HttpResponse:
    asked = form.cleaned_data
    best = fitting(
        found,
        amount=asked["amount"],
        visits_per_week=asked["visits_per_week"],
        owner_minutes_per_day=asked["owner_minutes_per_day"],
        days_off=form.days_off(),
        on_day_off=asked["on_day_off"],
        on=timezone.localdate(),
    )
    business = request.business  # type: ignore[attr-defined]
    amount = words.money(asked["amount"], business)
    if best.schedule is None:
        raise Refused(best.sentence(business))
    added = options.add_fitting(
        quote=found,
        name=best.name,
        text=f"Covers most of the guideline for {amount}",
        schedule=best.schedule,
        prepaid=best.prepaid,
        budget=asked["amount"],
        at=timezone.now(),
        by=request.user,
    )
    messages.success(request, f"“{added.name}” covers most for {amount}. {best.sentence(business)}")
    return redirect(found.get_absolute_url() + "#options")


@require_http_methods(["GET", "POST"])
def option_new(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    drawing = drawing_of(request, found, horses_of(found), on=timezone.localdate())
    if request.method == "POST" and drawing.is_valid():
        with showing_refusal(drawing.head):
            options.add_option(quote=found, **_drawn(drawing), at=timezone.now(), by=request.user)
            return redirect(found.get_absolute_url() + "#options")
    return _draw(request, drawing, found, heading="New option", submit="Add it")


@require_http_methods(["GET", "POST"])
def option_edit(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    drawing = drawing_of(request, option.quote, horses_of(option.quote), option, on=timezone.localdate())
    if request.method == "POST" and drawing.is_valid():
        with showing_refusal(drawing.head):
            options.change_option(option=option, **_drawn(drawing), at=timezone.now(), by=request.user)
            return redirect(option.quote.get_absolute_url() + "#options")
    return _draw(request, drawing, option.quote, heading=option.name, submit="Save", option=option)


def _drawn(drawing: Drawing) -> dict[str, Any]:
    return {
        "name": drawing.name,
        "text": drawing.head.cleaned_data["text"],
        "schedule": drawing.schedules(),
        "discount": drawing.head.discount(),
        "prepaid": drawing.head.prepaid(),
    }


def _draw(
    request: StaffRequest, drawing: Drawing, quote: Quote, *, heading: str, submit: str, option: Option | None = None
) -> HttpResponse:
    shown = {
        "drawing": drawing,
        "heading": heading,
        "submit": submit,
        "quote": quote,
        "option": option,
        "several": len(drawing.horses) > 1,
        "back": quote.get_absolute_url(),
    }
    return render(request, "billing/quotes/option_form.html", shown, status=422 if drawing.has_errors else 200)


@require_http_methods(["GET", "POST"])
def option_prefer(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    form = PreferForm(request.POST or None, initial={"why": option.preferred_why})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            why = form.cleaned_data["why"]
            options.prefer_option(option=option, why=why, at=timezone.now(), by=request.user)
            return redirect(option.quote.get_absolute_url() + "#options")
    return render_form(
        request,
        form,
        heading=f"“{option.name}”: the one I would choose",
        kicker=option.quote.title,
        submit="Mark it",
        back=option.quote.get_absolute_url(),
    )


@require_POST
def option_prefer_none(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    options.prefer_none(quote=found, at=timezone.now(), by=request.user)
    return redirect(found.get_absolute_url() + "#options")


@require_POST
def option_hide(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    options.hide_option(option=option, hidden="show" not in request.POST, at=timezone.now(), by=request.user)
    return redirect(option.quote.get_absolute_url() + "#options")


@require_POST
def option_delete(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    option = get_option_or_404(request, pk)
    options.remove_option(option=option, at=timezone.now(), by=request.user)
    messages.success(request, f"“{option.name}” is gone from the quote.")
    return redirect(option.quote)
