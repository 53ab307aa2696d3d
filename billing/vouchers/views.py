from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.vouchers.actions import sell_voucher
from billing.vouchers.forms import SellVoucherForm
from billing.vouchers.queries import vouchers_listed
from billing.vouchers.tables import VoucherFilter, VoucherTable
from clients.people.queries import get_person_or_404


@require_GET
@needs(Power.SEE_MONEY)
def vouchers(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=VoucherTable,
        filterset=VoucherFilter(request.GET, queryset=vouchers_listed(timezone.localdate())),
        heading="Gift vouchers",
        context={"kicker": "Money"},
        empty=(
            "No gift voucher yet",
            "Open the account of whoever buys one and sell it there.",
            "Who owes what",
            reverse("billing:payers"),
        ),
    )


@require_http_methods(["GET", "POST"])
def voucher_sell(request: StaffRequest, payer_pk: int) -> HttpResponse:
    payer, currency = get_person_or_404(request, payer_pk, Power.CHANGE_MONEY), request.business.currency  # type: ignore[attr-defined]
    form = SellVoucherForm(request.POST or None, currency=currency, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            voucher = sell_voucher(payer=payer, at=timezone.now(), by=request.user, **form.cleaned_data)
            messages.success(request, f"{voucher} is made. Its price waits under Not yet charged; then it is good.")
            return redirect("billing:vouchers")
    return render_form(
        request,
        form,
        heading="Sell a gift voucher",
        kicker=payer.name,
        submit="Sell it",
        back=reverse("billing:payer", args=[payer.pk]),
        intro="Whoever shows its code pays with it, at once or bit by bit. It holds no tax: what it pays for is taxed "
        "when it is used. Ask your tax office if you sell vouchers for one thing only.",
    )
