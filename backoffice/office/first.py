"""The first five minutes: where, when, prices, tax, rhythms. Each step is a short form, and each can be skipped."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.office.actions import change_business
from backoffice.office.first_forms import HoursForm, PayForm, RhythmForm, WhereForm
from backoffice.ui.forms import Form, showing_refusal
from billing.prices.actions import record_rate
from billing.prices.models import TaxRate
from billing.prices.opening import FirstPricesForm, open_price_list
from clients.plans.actions import add_starter_guidelines


@dataclass(frozen=True, slots=True)
class FirstStep:
    """`make` gives the form from what was sent, or what stands already; `save` does what it asks."""

    title: str
    sentence: str
    make: Callable[[Any, Business], Form]
    save: Callable[[Form, datetime, User], object]


def _change(form: Form, at: datetime, by: User) -> None:
    change_business(values=form.values(), at=at, by=by)  # type: ignore[attr-defined]


def _set_prices(form: Form, at: datetime, by: User) -> None:
    asked = {name: form.cleaned_data[name] for name in ("uses_machine", "call_out", "split")}
    open_price_list(prices=form.prices, at=at, by=by, **asked)  # type: ignore[attr-defined]


def _set_pay(form: Form, at: datetime, by: User) -> None:
    _change(form, at, by)
    if form.cleaned_data["percent"]:
        said = {name: form.cleaned_data[name] for name in ("percent", "is_included")}
        rate = TaxRate(category="standard", since=timezone.localtime(at).date(), **said)
        record_rate(rate=rate, at=at, by=by)


def _take_guidelines(form: Form, at: datetime, by: User) -> None:
    if form.cleaned_data["takes_starters"]:
        add_starter_guidelines(at=at, by=by)


STEPS = {
    "where": FirstStep(
        "Where you start from",
        "Rounds are planned from your base, and papers carry your address.",
        lambda data, business: WhereForm(data, business=business),
        _change,
    ),
    "hours": FirstStep(
        "Your day",
        "A booking outside these hours asks for a reason; a round ends within them.",
        lambda data, business: HoursForm(data, business=business),
        _change,
    ),
    "prices": FirstStep(
        "Your first prices",
        "What a first quote needs. More of them, packages and hire come later.",
        lambda data, business: FirstPricesForm(data, currency=business.currency),
        _set_prices,
    ),
    "pay": FirstStep(
        "How you are paid",
        "Printed on each invoice. Which taxes are yours to charge, your tax office says.",
        lambda data, business: PayForm(data, business=business),
        _set_pay,
    ),
    "rhythms": FirstStep(
        "How often you would come",
        "A guideline for each goal is what the options of a quote are measured by.",
        lambda data, business: RhythmForm(data),
        _take_guidelines,
    ),
}


def _after(name: str) -> str:
    names = list(STEPS)
    following = names.index(name) + 1
    return reverse("backoffice:first-step", args=[names[following]]) if following < len(names) else "/"


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def step(request: StaffRequest, name: str) -> HttpResponse:
    names = list(STEPS)
    if name not in names:
        raise Http404(name)
    asked, business = STEPS[name], request.business  # type: ignore[attr-defined]
    form, after = asked.make(request.POST or None, business), _after(name)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            asked.save(form, timezone.now(), request.user)
            if after == "/":
                messages.success(request, "Your back office is ready. Below is what comes next.")
            return redirect(after)
    context = {
        "form": form,
        "step": asked,
        "number": names.index(name) + 1,
        "count": len(names),
        "after": after,
        "is_last": after == "/",
    }
    return render(request, "backoffice/office/first.html", context, status=422 if form.errors else 200)
