from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from billing.invoices.queries import invoices_shown
from billing.packages.sold import PackageSold
from billing.payments.models import Payment, SecurityDeposit
from billing.starting import actions, forms
from billing.starting.models import MilesBefore, StartingDay


@dataclass(frozen=True, slots=True)
class Kind:
    """What may be brought along: its form, what does it, and the name that the action has for whose it is."""

    form: type[forms.BringForm]
    bring: Callable[..., Any]
    heading: str
    whose: str = "payer"


KINDS = {
    "invoice": Kind(forms.InvoiceForm, actions.bring_invoice, "An unpaid invoice"),
    "credit": Kind(forms.CreditForm, actions.bring_credit, "Credit on account"),
    "deposit": Kind(forms.SecurityForm, actions.bring_security, "A security deposit that is held", "person"),
    "package": Kind(forms.PackageForm, actions.bring_package, "A package with sessions left"),
}


@needs(Power.CHANGE_MONEY)
@require_http_methods(["GET", "POST"])
def starting(request: StaffRequest) -> HttpResponse:
    """The first day of the books, and what was brought along."""
    start = StartingDay.objects.first()
    if start is not None:
        return _brought(request, start)
    form = forms.BeginForm(request.POST or None, currency=_currency(request), today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            actions.begin_books(
                day=said["day"],
                bank=said["bank"] or Decimal(0),
                cash=said["cash"] or Decimal(0),
                first_numbers=form.first_numbers,
                at=timezone.now(),
                by=request.user,
            )
            return redirect("billing:starting")
    return render_form(
        request,
        form,
        heading="Your first day",
        kicker="Settings",
        submit="Begin here",
        back=reverse("backoffice:settings"),
        intro="Coming from a spreadsheet or other books? Say from which day you keep them here; then bring along what "
        "was open: unpaid invoices, credit, deposits, packages. A business that begins today needs none of this.",
    )


def _brought(request: StaffRequest, start: StartingDay) -> HttpResponse:
    context = {
        "start": start,
        "kinds": [(name, kind.heading) for name, kind in KINDS.items()],
        "invoices": invoices_shown(timezone.localdate()).exclude(brought_as="").order_by("due_on", "pk"),
        "credits": Payment.objects.filter(method=Payment.Method.BROUGHT).select_related("payer"),
        "deposits": SecurityDeposit.objects.filter(method=Payment.Method.BROUGHT).select_related("person"),
        "packages": PackageSold.objects.filter(is_brought=True)
        .select_related("payer")
        .prefetch_related("parts__service"),
        "driven": MilesBefore.objects.select_related("driver"),
    }
    return render(request, "billing/starting/starting.html", context)


@needs(Power.CHANGE_MONEY)
@require_http_methods(["GET", "POST"])
def bring(request: StaffRequest, kind: str) -> HttpResponse:
    if kind not in KINDS:
        raise Http404(kind)
    asked = KINDS[kind]
    form = asked.form(request.POST or None, currency=_currency(request))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = dict(form.cleaned_data)
            person = said.pop("person")
            asked.bring(**{asked.whose: person}, **said, at=timezone.now(), by=request.user)
            messages.success(request, f"{asked.heading} of {person}: brought along.")
            return redirect("billing:starting")
    return render_form(
        request,
        form,
        heading=asked.heading,
        kicker="Your first day",
        submit="Bring it along",
        back=reverse("billing:starting"),
    )


@needs(Power.CHANGE_MONEY)
@require_http_methods(["GET", "POST"])
def bring_driving(request: StaffRequest) -> HttpResponse:
    """What was driven this tax year before the first day, driver by driver."""
    form = forms.MilesForm(request.POST or None, unit=request.business.distance_unit)  # type: ignore[attr-defined]
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            row = actions.bring_miles(**form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"Noted for {row.driver}.")
            return redirect("billing:starting")
    return render_form(
        request,
        form,
        heading="Driven this tax year",
        kicker="Your first day",
        submit="Note it",
        back=reverse("billing:starting"),
        intro="Where a rate falls after so much in a year, what you drove before counts toward it.",
    )


def _currency(request: StaffRequest) -> str:
    return str(request.business.currency)  # type: ignore[attr-defined]
