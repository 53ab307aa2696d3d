"""The owner's side of the money, behind a private link: their invoices, what is left of packages, how to pay."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.documents.views import answer_with
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink
from backoffice.ui.forms import showing_refusal
from billing.einvoice.pay_code import pay_code
from billing.invoices.models import CreditNote, Invoice
from billing.invoices.queries import invoices_shown, open_invoices
from billing.invoices.tables import STATES
from billing.packages.queries import packages_left
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account
from billing.reminders.actions import ask_about_money
from billing.reminders.forms import AskForm
from billing.reminders.models import MoneyQuestion
from clients.people.models import Person

LATEST = 12
by_money_link = by_link(PrivateLink.Purpose.MONEY)
PAPERS = {  # which rows, the way to their payer, the way to their paper
    "invoice": (Invoice, "payer", "document"),
    "credit-note": (CreditNote, "invoice__payer", "document"),
    "receipt": (Payment, "payer", "receipt"),
}


@by_money_link
@require_GET
def owner_money(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    return _page(request, _person(link), token, AskForm())


def _person(link: PrivateLink) -> Person:
    return get_object_or_404(Person, pk=link.target_pk, erased_on=None)


def _page(request: HttpRequest, person: Person, token: str, form: AskForm) -> HttpResponse:
    today = timezone.localdate()
    owed = list(open_invoices(person, today))
    context = {
        "person": person,
        "token": token,
        "owed": owed,
        "owed_total": sum(invoice.open for invoice in owed),
        "settled": invoices_shown(today).filter(payer=person, shown__in=["paid", "credited"])[:LATEST],
        "notes": CreditNote.objects.filter(invoice__payer=person).select_related("invoice")[:LATEST],
        "payments": Payment.objects.filter(payer=person, returned_on=None)[:LATEST],
        "packages": packages_left(person, today),
        "credit": credit_on_account(person),
        "pay_codes": [(each, code) for each in owed if not each.brought_as and (code := pay_code(each.frozen))],
        "questions": MoneyQuestion.objects.filter(person=person),
        "form": form,
        "tones": STATES,
    }
    return render(request, "billing/reminders/owner_money.html", context, status=422 if form.errors else 200)


@by_money_link
@require_POST
def owner_money_ask(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    person, form = _person(link), AskForm(request.POST)
    if form.is_valid():
        with showing_refusal(form):
            ask_about_money(person=person, text=form.cleaned_data["text"], at=timezone.now())
            messages.success(request, "Your question is on its way. No reminder is sent until it is answered.")
            return redirect(f"{reverse('billing:owner-money', args=[token])}#questions")
    return _page(request, person, token, form)


@by_money_link
@require_GET
def owner_money_paper(request: HttpRequest, link: PrivateLink, token: str, kind: str, pk: int) -> HttpResponse:
    """Only papers of this person, and only issued ones."""
    if kind not in PAPERS:
        raise Http404(kind)
    model, whose, paper = PAPERS[kind]
    row = get_object_or_404(model.objects.exclude(**{paper: None}), **{whose: _person(link)}, pk=pk)  # type: ignore[attr-defined]
    return answer_with(getattr(row, paper), request)
