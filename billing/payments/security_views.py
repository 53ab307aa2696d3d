from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.words import money
from billing.payments.models import Payment, SecurityDeposit
from billing.payments.queries import get_payer_or_404
from billing.payments.security import settle_security, take_security
from billing.payments.security_forms import SettleSecurityForm, TakeSecurityForm

LATEST = 50


@require_GET
@needs(Power.SEE_MONEY)
def deposits(request: StaffRequest) -> HttpResponse:
    """What is held, and what became of the rest."""
    rows = SecurityDeposit.objects.select_related("person")
    context = {
        "held": rows.filter(settled_on=None),
        "settled": rows.exclude(settled_on=None)[:LATEST],
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/payments/deposits.html", context)


@require_http_methods(["GET", "POST"])
def deposit_take(request: StaffRequest, payer_pk: int) -> HttpResponse:
    person = get_payer_or_404(request, payer_pk, Power.CHANGE_MONEY)
    currency = request.business.currency  # type: ignore[attr-defined]
    form = TakeSecurityForm(request.POST or None, currency=currency, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            taken = take_security(
                person=person,
                amount=said["amount"],
                method=Payment.Method(said["method"]),
                what=said["what"],
                on=said["on"],
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"{taken} is held. Its receipt is ready.")
            return redirect("billing:deposits")
    return render_form(
        request,
        form,
        heading="Take a security deposit",
        kicker=person.name,
        submit="Take it",
        back=reverse("billing:payer", args=[person.pk]),
        intro="Held against loss or damage of a machine, and given back. A booking deposit is another thing: it is "
        "part of a price and stands on an invoice.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def deposit_settle(request: StaffRequest, pk: int) -> HttpResponse:
    deposit = get_object_or_404(SecurityDeposit.objects.select_related("person"), pk=pk)
    business = request.business  # type: ignore[attr-defined]
    form = SettleSecurityForm(
        request.POST or None,
        deposit=deposit,
        currency=business.currency,
        today=timezone.localdate(),
        initial={"method": deposit.method},
    )
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            settle_security(
                deposit=deposit,
                kept=said["kept"],
                kept_for=said["kept_for"],
                reason=said["reason"],
                method=Payment.Method(said["method"]),
                on=said["on"],
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"{deposit} is settled.")
            return redirect("billing:deposits")
    return render_form(
        request,
        form,
        heading="Settle a security deposit",
        kicker=str(deposit.person),
        submit="Settle it",
        back=reverse("billing:deposits"),
        intro=f"{money(deposit.amount, business)} is held for: {deposit.what}.",
    )
