"""Credit on account: used for open invoices, or given back."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import prepare_renderer, render_pdf
from backoffice.refusal import Refused
from billing.invoices.models import Invoice
from billing.invoices.queries import open_invoices
from billing.journal.actions import post
from billing.journal.models import Account
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.numbers.actions import take_number
from billing.payments.models import Allocation, Payment, Refund, RefundPart
from billing.payments.queries import credit_on_account, oldest_first, payments_shown
from clients.people.models import Person

PAID_FROM = {
    Payment.Method.CASH: Account.CASH,
    Payment.Method.CHECK: Account.BANK,  # one that we wrote
    Payment.Method.TRANSFER: Account.BANK,
    Payment.Method.CARD: Account.CARD_CLEARING,
}


@audit.action
def use_credit(*, payer: Person, on: date, at: datetime, by: User) -> Mapping[Invoice, Decimal]:
    """Settle the payer's open invoices with their credit, as far as it goes, the one due first at the top."""
    owed = oldest_first(credit_on_account(payer), list(open_invoices(payer, on)))
    if not owed:
        raise Refused("There is no credit, or no open invoice, to bring together.")
    for invoice, part in owed.items():
        for payment, taken in _from_payments(payer, part).items():
            _allocate(payment, invoice, taken)
        entries = [(Account.CREDIT, part, payer), (Account.RECEIVABLE, -part, payer)]
        post(day=on, text=f"Credit used for {invoice}", source=invoice, entries=entries)
        audit.record("credit used", invoice, at=at, by=by, changes={"payer": payer.pk, "amount": part})
    return owed


def _allocate(payment: Payment, invoice: Invoice, amount: Decimal) -> None:
    allocation = Allocation.objects.filter(payment=payment, invoice=invoice).first()
    if allocation is None:
        Allocation.objects.create(payment=payment, invoice=invoice, amount=amount)
    else:
        allocation.amount += amount
        allocation.save(update_fields=["amount"])


def _from_payments(payer: Person, amount: Decimal) -> dict[Payment, Decimal]:
    """Which payments' credit makes up the amount, the oldest first."""
    taken: dict[Payment, Decimal] = {}
    for payment in payments_shown().filter(payer=payer, credit__gt=0).order_by("received_on", "number"):
        part = min(amount, payment.credit)
        if part > 0:
            taken[payment], amount = part, amount - part
    return taken


def give_credit_back(
    *, payer: Person, amount: Decimal, method: Payment.Method, on: date, reference: str = "", at: datetime, by: User
) -> Refund:
    """Money that no invoice has taken goes back to the payer, with a receipt; never more than there is."""
    prepare_renderer()
    return _give_back(payer=payer, amount=amount, method=method, on=on, reference=reference, at=at, by=by)


@audit.action
def _give_back(
    *, payer: Person, amount: Decimal, method: Payment.Method, on: date, reference: str, at: datetime, by: User
) -> Refund:
    currency, credit = the_business().currency, credit_on_account(payer)
    if method not in PAID_FROM:
        raise Refused("What is given back is money, not a gift voucher.")
    if amount <= 0:
        raise Refused("A refund is more than nothing.")
    if round_money(amount, currency) != amount:
        raise Refused(f"An amount of {currency} has {minor_digits(currency)} decimals.")
    if amount > credit:
        raise Refused(
            f"{payer} has {say_amount(credit, currency)} of credit, less than {say_amount(amount, currency)}."
        )
    if on > local_date(at):
        raise Refused("Money is not given back ahead of today.")
    refund = Refund(
        number=take_number("refund"),
        payer=payer,
        given_on=on,
        amount=amount,
        method=method,
        reference=reference,
        recorded_at=at,
        recorded_by=by,
    )
    parts = _from_payments(payer, amount)
    content = render_pdf("documents/refund.html", {"refund": refund, "parts": parts.items()})
    title = f"Refund {refund.number}"
    refund.receipt = store_document(kind=Document.Kind.RECEIPT, title=title, content=content, at=at, by=by)
    refund.save(force_insert=True)
    RefundPart.objects.bulk_create(
        RefundPart(refund=refund, payment=payment, amount=part) for payment, part in parts.items()
    )
    entries = [(Account.CREDIT, amount, payer), (PAID_FROM[method], -amount, None)]
    post(day=on, text=title, source=refund, entries=entries)
    changes = {"number": refund.number, "payer": payer.pk, "amount": amount}
    audit.record("credit given back", refund, at=at, by=by, changes=changes)
    return refund
