from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from billing.invoices.by_hand import charge_by_hand, take_charge_back
from billing.invoices.forms import ByHandForm, TakeBackForm
from billing.invoices.models import Charge
from clients.people.queries import get_person_or_404


@require_http_methods(["GET", "POST"])
def charge_new(request: StaffRequest, payer_pk: int) -> HttpResponse:
    """A charge that no rule proposes."""
    payer, currency = get_person_or_404(request, payer_pk, Power.CHANGE_MONEY), request.business.currency  # type: ignore[attr-defined]
    account = reverse("billing:payer", args=[payer.pk])
    form = ByHandForm(request.POST or None, currency=currency, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = {**form.cleaned_data, "kind": Charge.Kind(form.cleaned_data["kind"])}
            charge = charge_by_hand(payer=payer, at=timezone.now(), by=request.user, **said)
            messages.success(request, f"{charge.text} is on the next invoice.")
            return redirect(account)
    return render_form(
        request,
        form,
        heading="Charge something else",
        kicker=payer.name,
        submit="Charge it",
        back=account,
        intro="Finished visits, hires and packages propose their charges by themselves. This is for what none of them "
        "covers.",
    )


@needs(Power.CHANGE_MONEY)
@require_http_methods(["GET", "POST"])
def charge_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    """Unconfirm a charge that is on no invoice yet."""
    charge = get_object_or_404(Charge, pk=pk)
    share = charge.shares.first()
    back = reverse("billing:payer", args=[share.payer_id]) if share else reverse("billing:uncharged")
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            take_charge_back(charge=charge, reason=form.cleaned_data["reason"], at=timezone.now(), by=request.user)
            messages.success(request, f"Taken back: {charge.text}.")
            return redirect(back)
    return render_form(
        request,
        form,
        heading="Take back",
        kicker=charge.text,
        submit="Take it back",
        back=back,
        intro="It is confirmed and on no invoice yet. Work that was done waits to be charged again.",
    )
