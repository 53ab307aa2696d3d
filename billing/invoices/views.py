from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db.models import F, Sum
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.letters.queries import letters_about
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from backoffice.ui.words import money
from billing.invoices.actions import (
    confirm_charges,
    discard_invoice,
    draft_invoices,
    issue_invoice,
    waive_charge,
)
from billing.invoices.crediting import credit_invoice
from billing.invoices.forms import ChargeForm, CreditForm, WriteOffForm, charge_forms
from billing.invoices.queries import (
    credited_of,
    drafts_waiting,
    get_invoice_or_404,
    invoices_shown,
    lines_of,
    proposals_for,
    shares_to_invoice,
    uncharged_days,
)
from billing.invoices.tables import STATES, InvoiceFilter, InvoiceTable
from billing.invoices.totals import totals_of
from billing.invoices.writing_off import take_up_again, write_off
from billing.prices.queries import tax_book

HIGHEST_SHOWN = 60


def get_day_or_404(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404(text) from None


@require_GET
@needs(Power.SEE_MONEY)
def uncharged(request: StaffRequest) -> HttpResponse:
    """Finished work of one day and what it costs; the oldest day first."""
    days = uncharged_days(timezone.localdate())
    asked = request.GET.get("day", "")
    day = get_day_or_404(asked) if asked else (days[0] if days else timezone.localdate())
    return _uncharged_page(request, day, charge_forms(proposals_for(day), _currency(request)), days=days)


@require_POST
@needs(Power.CHANGE_MONEY)
def charges_confirm(request: StaffRequest, day: str) -> HttpResponse:
    """Confirm all that the page showed; what came up since then stays for the next look."""
    on = get_day_or_404(day)
    forms = charge_forms(proposals_for(on), _currency(request), request.POST)
    posted = [form for form in forms if form.is_bound]
    if not all([form.is_valid() for form in posted]):
        return _uncharged_page(request, on, forms, status=422)
    charged = confirm_charges(
        day=on,
        keys={form.proposal.key for form in posted},
        changes={form.proposal.key: form.change for form in posted if form.change},
        at=timezone.now(),
        by=request.user,
    )
    left = len(posted) - len(charged)
    waits = f" {left} wait for what is missing." if left else ""
    messages.success(request, f"{len(charged)} charges of {on:%a %-d %b} confirmed.{waits}")
    return redirect("billing:uncharged")


@require_POST
@needs(Power.CHANGE_MONEY)
def charge_waive(request: StaffRequest, day: str, key: str) -> HttpResponse:
    on = get_day_or_404(day)
    forms = charge_forms(proposals_for(on), _currency(request), request.POST, waiving=key)
    waived = [form for form in forms if form.waiving]
    if waived and not waived[0].is_valid():
        kept = [form if form.waiving or not form.is_bound else _unchecked(form) for form in forms]
        return _uncharged_page(request, on, kept, status=422)
    reason = waived[0].cleaned_data["reason"] if waived else ""
    charge = waive_charge(day=on, key=key, reason=reason or "-", at=timezone.now(), by=request.user)
    messages.success(request, f"Waived: {charge.text}.")
    return redirect(f"{reverse('billing:uncharged')}?day={day}")


def _unchecked(form: ChargeForm) -> ChargeForm:
    """What was typed in the other rows stays, and is judged when the day is confirmed."""
    form.errors.clear()
    return form


def _uncharged_page(
    request: StaffRequest,
    day: date,
    forms: list[ChargeForm],
    *,
    days: Sequence[date] | None = None,
    status: int | None = None,
) -> HttpResponse:
    waiting = shares_to_invoice().order_by().aggregate(total=Sum("amount"))["total"]
    context = {
        "day": day,
        "days": (uncharged_days(timezone.localdate()) if days is None else days)[:HIGHEST_SHOWN],
        "forms": forms,
        "total": sum(form.proposal.amount or 0 for form in forms),
        "missing": [form.proposal.missing for form in forms if form.proposal.missing],
        "wrong": any(form.is_bound and form.errors for form in forms),
        "waiting": waiting,
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/invoices/uncharged.html", context, status=status)


@require_GET
@needs(Power.SEE_MONEY)
def invoices(request: StaffRequest) -> HttpResponse:
    rows = invoices_shown(timezone.localdate()).order_by(F("issued_on").desc(nulls_first=True), "-number", "-pk")
    return render_list(
        request,
        table_class=InvoiceTable,
        filterset=InvoiceFilter(request.GET, queryset=rows),
        heading="Invoices",
        template="billing/invoices/list.html",
        context={"kicker": "Money", "drafts": drafts_waiting()["count"]},
        empty=(
            "No invoice yet",
            "Confirm finished work, then make drafts of it.",
            "Not yet charged",
            reverse("billing:uncharged"),
        ),
    )


@require_GET
def invoice(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_invoice_or_404(request, pk, timezone.localdate())
    lines = lines_of(found)
    is_draft = found.state == found.State.DRAFT
    context: dict[str, Any] = {
        "invoice": found,
        "lines": lines,
        "tone": STATES[found.shown][0],
        "totals": totals_of(lines, tax_book(), found.currency) if is_draft else None,
        "write_offs": found.write_offs.all(),
        "credit_notes": found.credit_notes.select_related("document"),
        "allocations": found.allocations.select_related("payment"),
        "letters": letters_about(found),
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/invoices/invoice.html", context)


@require_POST
@needs(Power.CHANGE_MONEY)
def invoices_draft(request: StaffRequest) -> HttpResponse:
    drafts = draft_invoices(at=timezone.now(), by=request.user)
    if len(drafts) == 1:
        return redirect(drafts[0])
    messages.success(request, f"{len(drafts)} drafts are ready to look at and issue.")
    return redirect(f"{reverse('billing:invoices')}?shown=draft")


@require_POST
def invoice_issue(request: StaffRequest, pk: int) -> HttpResponse:
    today = timezone.localdate()
    draft = get_invoice_or_404(request, pk, today, Power.CHANGE_MONEY)
    issued = issue_invoice(invoice=draft, on=today, at=timezone.now(), by=request.user)
    messages.success(request, f"Invoice {issued.name} is issued. Its PDF is ready.")
    return redirect(issued)


@require_http_methods(["GET", "POST"])
def invoice_credit(request: StaffRequest, pk: int) -> HttpResponse:
    """Take back all or part of an issued invoice, line by line."""
    today = timezone.localdate()
    found = get_invoice_or_404(request, pk, today, Power.CHANGE_MONEY)
    lines = lines_of(found)
    before = credited_of(lines)
    left = {line.pk: line.amount - before[line.pk][0] for line in lines}
    form = CreditForm(request.POST or None, lines=lines, left=left, currency=found.currency)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            note = credit_invoice(
                invoice=found,
                amounts=form.amounts,
                reason=form.cleaned_data["reason"],
                anew=form.anew,
                on=today,
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"{note} is issued. Its PDF is ready.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="Take back",
        submit="Issue the credit note",
        back=found.get_absolute_url(),
        kicker=str(found),
        intro="An issued invoice stands as it is. A credit note with a number of its own takes back what was wrong; "
        "what was paid already becomes credit on account.",
    )


@require_http_methods(["GET", "POST"])
def invoice_write_off(request: StaffRequest, pk: int) -> HttpResponse:
    """Give up what is open of an invoice."""
    today = timezone.localdate()
    found = get_invoice_or_404(request, pk, today, Power.CHANGE_MONEY)
    form = WriteOffForm(request.POST or None, has_tax=bool(found.tax))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            write_off(
                invoice=found,
                reason=form.cleaned_data["reason"],
                relieves_tax=form.cleaned_data.get("relieves_tax", False),
                on=today,
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"What was open of {found} is written off.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="Write off",
        kicker=str(found),
        submit=f"Write off {money(found.open or Decimal(0), request.business)}",  # type: ignore[attr-defined]
        back=found.get_absolute_url(),
        intro="You give up what is open. It leaves the list of what is owed and stands in the books as a bad debt; "
        "you can ask for it again.",
    )


@require_POST
def invoice_ask_again(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_invoice_or_404(request, pk, timezone.localdate(), Power.CHANGE_MONEY)
    given_up = get_object_or_404(found.write_offs, undone_on=None)
    take_up_again(given_up=given_up, on=timezone.localdate(), at=timezone.now(), by=request.user)
    messages.success(request, f"{found} is open again.")
    return redirect(found)


@require_POST
def invoice_discard(request: StaffRequest, pk: int) -> HttpResponse:
    draft = get_invoice_or_404(request, pk, timezone.localdate(), Power.CHANGE_MONEY)
    discard_invoice(invoice=draft, at=timezone.now(), by=request.user)
    messages.success(request, f"The draft for {draft.payer} is thrown away. Its lines wait for the next draft.")
    return redirect("billing:invoices")


def _currency(request: HttpRequest) -> str:
    return str(request.business.currency)  # type: ignore[attr-defined]
