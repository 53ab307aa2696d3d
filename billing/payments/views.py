from datetime import date
from decimal import Decimal

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.queries import local_date
from backoffice.documents.render import render_pdf
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.invoices.models import Invoice
from billing.invoices.queries import invoices_shown, open_invoices
from billing.invoices.tables import STATES
from billing.money.rounding import round_money
from billing.packages.queries import packages_left
from billing.payments.actions import take_payment
from billing.payments.credit import give_credit_back, use_credit
from billing.payments.forms import PaymentForm, RefundForm, StatementForm
from billing.payments.models import Payment
from billing.payments.queries import (
    credit_on_account,
    get_payer_or_404,
    get_payment_or_404,
    money_from_the_barn,
    money_overview,
    payers_shown,
    payments_shown,
    statement_of,
    waiting_shares,
)
from billing.payments.tables import PayerFilter, PayerTable, PaymentFilter, PaymentTable
from billing.prices.queries import price_list_of
from clients.barnside.models import HandMoney
from clients.people.models import Person

LATEST = 25


@require_GET
@needs(Power.SEE_MONEY)
def money(request: StaffRequest) -> HttpResponse:
    overview = money_overview(timezone.localdate())
    return render(
        request, "billing/payments/money.html", {"overview": overview, "overdue_words": f"{overview.overdue} overdue"}
    )


@require_GET
@needs(Power.SEE_MONEY)
def payments(request: StaffRequest) -> HttpResponse:
    rows = payments_shown().order_by("-received_on", "-number")
    choose = ("Take a payment", reverse("billing:payers"))
    return render_list(
        request,
        table_class=PaymentTable,
        filterset=PaymentFilter(request.GET, queryset=rows),
        heading="Payments",
        context={"kicker": "Money"},
        new=choose if request.user.may(Power.CHANGE_MONEY) else None,
        empty=("No payment yet", "Choose who paid, then what for.", *choose),
    )


@require_GET
def payment(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_payment_or_404(request, pk)
    context = {"payment": found, "may_change": request.user.may(Power.CHANGE_MONEY)}
    return render(request, "billing/payments/payment.html", context)


@require_GET
@needs(Power.SEE_MONEY)
def payers(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=PayerTable,
        filterset=PayerFilter(request.GET, queryset=payers_shown().order_by("-owes", "name", "pk")),
        heading="Who owes what",
        context={"kicker": "Money"},
        empty=(
            "Nobody was charged yet",
            "Finished work is charged first.",
            "Not yet charged",
            reverse("billing:uncharged"),
        ),
    )


@require_GET
def payer(request: StaffRequest, pk: int) -> HttpResponse:
    person, today = get_payer_or_404(request, pk), timezone.localdate()
    owed = list(open_invoices(person, today))
    context = {
        "person": person,
        "owed": owed,
        "owed_total": sum(invoice.open for invoice in owed),
        "settled": invoices_shown(today).filter(payer=person, shown__in=["paid", "credited"])[:LATEST],
        "payments": payments_shown().filter(payer=person)[:LATEST],
        "refunds": person.refunds.all()[:LATEST],
        "waiting": list(waiting_shares(person)),
        "packages": packages_left(person, today),
        "credit": credit_on_account(person),
        "price_list": price_list_of(person, today),
        "tones": STATES,
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/payments/payer.html", context)


@require_http_methods(["GET", "POST"])
def payment_new(request: StaffRequest, payer_pk: int) -> HttpResponse:
    """Take a payment of somebody; `?invoice=` puts one invoice first, `?barn=` starts from money taken in the barn."""
    person, today = get_payer_or_404(request, payer_pk, Power.CHANGE_MONEY), timezone.localdate()
    owed = _first_asked(list(open_invoices(person, today)), request.GET.get("invoice", ""))
    currency = request.business.currency  # type: ignore[attr-defined]
    asked = owed[:1] if "invoice" in request.GET else owed
    start: dict[str, object] = {
        "amount": round_money(sum((each.open for each in asked), start=Decimal(0)), currency) or None
    }
    taken_there = money_from_the_barn().filter(pk=_number(request.GET.get("barn", ""))).first()
    form = PaymentForm(
        request.POST or None, initial=start | _start_of(taken_there), invoices=owed, currency=currency, today=today
    )
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            taken = _take(form, person, request, taken_there)
        if not form.errors:
            messages.success(request, f"Payment {taken.number} is taken. Its receipt is ready.")
            return redirect(taken)
    return render_form(
        request,
        form,
        heading="Take a payment",
        kicker=person.name,
        submit="Take the payment",
        back=reverse("billing:payer", args=[person.pk]),
        template="billing/payments/take.html",
        context={"invoice_fields": [form[name] for name in form.fields if name.startswith("invoice-")]},
    )


@require_GET
def payer_statement(request: StaffRequest, pk: int) -> HttpResponse:
    """What somebody was asked and gave since a day, as a page or, with `paper`, as a PDF to send."""
    person, today = get_payer_or_404(request, pk), timezone.localdate()
    start = {"since": date(today.year, 1, 1).isoformat()}
    form = StatementForm(request.GET if "since" in request.GET else start, today=today)
    since = form.cleaned_data["since"] if form.is_valid() else date(today.year, 1, 1)
    context = {"person": person, "form": form, "statement": statement_of(person, since=since, until=today)}
    if "paper" not in request.GET or not form.is_valid():
        return render(request, "billing/payments/statement.html", context)
    name = f"statement-{slugify(person.name) or person.pk}-{today.isoformat()}.pdf"
    paper = HttpResponse(render_pdf("documents/statement.html", context), content_type="application/pdf")
    paper["Content-Disposition"] = f'inline; filename="{name}"'
    paper["Cache-Control"] = "no-store"
    return paper


@require_POST
def payer_use_credit(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_payer_or_404(request, pk, Power.CHANGE_MONEY)
    used = use_credit(payer=person, on=timezone.localdate(), at=timezone.now(), by=request.user)
    messages.success(request, f"The credit is used for {', '.join(str(invoice) for invoice in used)}.")
    return redirect("billing:payer", person.pk)


@require_http_methods(["GET", "POST"])
def payer_give_back(request: StaffRequest, pk: int) -> HttpResponse:
    """Credit on account goes back to who paid it."""
    person, today = get_payer_or_404(request, pk, Power.CHANGE_MONEY), timezone.localdate()
    currency, credit = request.business.currency, credit_on_account(person)  # type: ignore[attr-defined]
    form = RefundForm(request.POST or None, initial={"amount": round_money(credit, currency)}, currency=currency)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            refund = give_credit_back(
                payer=person,
                amount=said["amount"],
                method=Payment.Method(said["method"]),
                on=today,
                reference=said["reference"],
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"Refund {refund.number} is written down.")
            return redirect("billing:payer", person.pk)
    return render_form(
        request,
        form,
        heading="Give credit back",
        kicker=person.name,
        submit="Written down as given back",
        back=reverse("billing:payer", args=[person.pk]),
        intro="Hand the money over or send it first. This writes it down in the books.",
    )


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 19 else 0


def _start_of(taken_there: HandMoney | None) -> dict[str, object]:
    """What the slip from the barn says, to be confirmed."""
    if taken_there is None:
        return {}
    return {
        "amount": taken_there.amount,
        "method": taken_there.method,
        "received_on": local_date(taken_there.taken_at),
        "reference": ", ".join(filter(None, [taken_there.slip and f"slip {taken_there.slip}", taken_there.words])),
    }


def _first_asked(owed: list[Invoice], asked: str) -> list[Invoice]:
    return sorted(owed, key=lambda invoice: str(invoice.pk) != asked)


def _take(form: PaymentForm, person: Person, request: StaffRequest, taken_there: HandMoney | None) -> Payment:
    cleaned = form.cleaned_data
    return take_payment(
        payer=person,
        amount=cleaned["amount"],
        method=Payment.Method(cleaned["method"]),
        received_on=cleaned["received_on"],
        reference=cleaned["reference"],
        allocations=form.allocations,
        tip=form.tip,
        voucher=form.voucher,
        hand_money=taken_there,
        at=timezone.now(),
        by=request.user,
    )
