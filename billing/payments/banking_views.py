from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.words import money
from billing.journal.models import Account
from billing.money.words import say_amount
from billing.payments.banking import bank_takings, note_card_payout, note_returned_check
from billing.payments.banking_forms import PayoutForm, ReturnedForm, SlipForm
from billing.payments.models import CardPayout, DepositSlip
from billing.payments.queries import balance_of, checks_in_hand, get_payment_or_404

LATEST = 10


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def bank(request: StaffRequest) -> HttpResponse:
    """Checks and cash to the bank, on a slip."""
    today, currency = timezone.localdate(), request.business.currency  # type: ignore[attr-defined]
    held, cash = list(checks_in_hand()), balance_of(Account.CASH)
    form = SlipForm(request.POST or None, held=held, cash=cash, currency=currency, today=today)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            slip = bank_takings(
                checks=form.chosen, cash=said["cash"], on=said["on"], at=timezone.now(), by=request.user
            )
            messages.success(request, f"{slip} over {say_amount(slip.total, currency)} is ready to print.")
            return redirect("billing:bank-takings")
    return render_form(
        request,
        form,
        heading="To the bank",
        kicker="Money",
        submit="Make the slip",
        back=reverse("billing:money"),
        template="billing/payments/bank.html",
        context={"slips": DepositSlip.objects.all()[:LATEST]},
    )


@require_http_methods(["GET", "POST"])
def check_returned(request: StaffRequest, pk: int) -> HttpResponse:
    payment = get_payment_or_404(request, pk, Power.CHANGE_MONEY)
    form = ReturnedForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            note_returned_check(
                payment=payment, reason=said["reason"], on=said["on"], at=timezone.now(), by=request.user
            )
            messages.success(request, "What the check had settled is open again.")
            return redirect(payment)
    return render_form(
        request,
        form,
        heading="The check came back",
        kicker=str(payment.payer),
        submit="Write it down",
        back=payment.get_absolute_url(),
        intro="What it had settled is open again, and its credit is gone. The bank’s charge is an expense of its own.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def card_payout(request: StaffRequest) -> HttpResponse:
    currency = request.business.currency  # type: ignore[attr-defined]
    form = PayoutForm(request.POST or None, currency=currency, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            payout = note_card_payout(
                amount=said["amount"],
                fee=said["fee"],
                on=said["on"],
                reference=said["reference"],
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"{payout} is written down.")
            return redirect("billing:money")
    waiting = money(balance_of(Account.CARD_CLEARING), request.business)  # type: ignore[attr-defined]
    return render_form(
        request,
        form,
        heading="Card payout",
        kicker="Money",
        submit="Write it down",
        back=reverse("billing:money"),
        intro=f"Cards brought {waiting} that is not paid out yet.",
        template="billing/payments/payout.html",
        context={"payouts": CardPayout.objects.all()[:LATEST]},
    )
