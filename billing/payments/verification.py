"""What `verify` looks at among payments, and between them, the invoices and the journal."""

from collections.abc import Iterator
from decimal import Decimal

from django.db.models import F

from billing.invoices.models import CreditNote, Invoice, WriteOff
from billing.journal.models import Account, Posting
from billing.money.totals import totals
from billing.numbers.verification import faults_of_series
from billing.payments.models import Allocation, CardPayout, DepositSlip, Payment, Refund, RefundPart, SecurityDeposit


def count_payments() -> str:
    return f"{Payment.objects.count()} payments with {Allocation.objects.count()} allocations"


def count_payers() -> str:
    return f"{Posting.objects.filter(payer__isnull=False).values('payer').distinct().count()} payers with postings"


def faults_of_numbers() -> Iterator[str]:
    yield from faults_of_series("payment", Payment.objects.values_list("number", flat=True).order_by())


def faults_of_refunds() -> Iterator[str]:
    """Refund numbers with a gap, and refunds whose parts do not add up to them or are of another payer."""
    yield from faults_of_series("refund", Refund.objects.values_list("number", flat=True).order_by())
    parts = totals(RefundPart.objects.values_list("refund", "amount").order_by())
    for refund in Refund.objects.order_by("pk"):
        if parts[refund.pk] != refund.amount:
            yield f"refund {refund.number} is {refund.amount:f}, its parts sum to {parts[refund.pk]:f}."
    for part in RefundPart.objects.exclude(payment__payer=F("refund__payer")).select_related("refund", "payment"):
        yield f"refund {part.refund.number} gives back payment {part.payment.number} of another payer."


def count_refunds() -> str:
    return f"{Refund.objects.count()} refunds"


def faults_of_allocations() -> Iterator[str]:
    """Payments and invoices with more allocated than they hold, and allocations across payers or to drafts."""
    rows = list(Allocation.objects.values_list("payment", "invoice", "amount"))
    refunded = RefundPart.objects.values_list("payment", "amount").order_by()
    of_payment = totals([*((payment, amount) for payment, _, amount in rows), *refunded])
    of_invoice = totals((invoice, amount) for _, invoice, amount in rows)
    credited = _credited()
    for payment in Payment.objects.order_by("pk").iterator():
        if of_payment[payment.pk] > payment.amount:
            yield f"payment {payment.number} is {payment.amount:f}, {of_payment[payment.pk]:f} of it is used."
    for invoice in Invoice.objects.order_by("pk").iterator():
        if invoice.state == Invoice.State.DRAFT and of_invoice[invoice.pk]:
            yield f"invoice {invoice.pk} is a draft and has money allocated to it."
        elif of_invoice[invoice.pk] > invoice.total - credited[invoice.pk]:
            asks = invoice.total - credited[invoice.pk]
            yield f"invoice {invoice.name} asks for {asks:f}, {of_invoice[invoice.pk]:f} is allocated to it."
    crossed = Allocation.objects.exclude(payment__payer=F("invoice__payer")).select_related("payment", "invoice")
    for allocation in crossed:
        yield f"payment {allocation.payment.number} settles invoice {allocation.invoice.name} of another payer."


def faults_of_balances() -> Iterator[str]:
    """Payers whose receivable in the books is not their open invoices, or whose credit is not their spare money."""
    allocated = totals(Allocation.objects.values_list("invoice", "amount").order_by())
    refunded = RefundPart.objects.values_list("payment", "amount").order_by()
    tips = Payment.objects.values_list("pk", "tip").order_by()
    spent = totals([*Allocation.objects.values_list("payment", "amount").order_by(), *refunded, *tips])
    credited = _credited()
    issued = Invoice.objects.exclude(state=Invoice.State.DRAFT).values_list("payer", "pk", "total").order_by()
    opened = totals((payer, total - allocated[pk] - credited[pk]) for payer, pk, total in issued)
    payments = Payment.objects.filter(returned_on=None).values_list("payer", "pk", "amount").order_by()
    spare = totals((payer, amount - spent[pk]) for payer, pk, amount in payments)
    yield from _differences("receivable", _booked(Account.RECEIVABLE), opened, "open invoices")
    credit = {payer: -amount for payer, amount in _booked(Account.CREDIT).items()}
    yield from _differences("credit on account", credit, spare, "money not allocated")


def _credited() -> dict[int, Decimal]:
    """By invoice, what credit notes took back and what was written off."""
    given_up = WriteOff.objects.filter(undone_on=None).values_list("invoice", "amount").order_by()
    return totals([*CreditNote.objects.values_list("invoice", "total").order_by(), *given_up])


def count_held() -> str:
    return f"{DepositSlip.objects.count()} deposit slips, {CardPayout.objects.count()} card payouts"


def faults_of_held() -> Iterator[str]:
    """Slips with a gap or another sum, returned checks that still settle something, and cash, checks or card money in
    the books that are not what was taken and not yet banked."""
    yield from faults_of_series("deposit_slip", DepositSlip.objects.values_list("number", flat=True).order_by())
    banked = totals(Payment.objects.filter(slip__isnull=False).values_list("slip", "amount").order_by())
    for slip in DepositSlip.objects.order_by("pk"):
        if banked[slip.pk] + slip.cash != slip.total:
            yield f"deposit slip {slip.number} is {slip.total:f}, it holds {banked[slip.pk] + slip.cash:f}."
    for allocation in Allocation.objects.filter(payment__returned_on__isnull=False).select_related("payment"):
        yield f"payment {allocation.payment.number} came back unpaid and still settles an invoice."
    yield from faults_of_series("security", SecurityDeposit.objects.values_list("number", flat=True).order_by())
    in_trust = sum(SecurityDeposit.objects.filter(settled_on=None).values_list("amount", flat=True), Decimal(0))
    if -_booked(Account.DEPOSITS_HELD)[None] != in_trust:
        booked = -_booked(Account.DEPOSITS_HELD)[None]
        yield f"deposits held are {booked:f} in the books, {in_trust:f} by what was taken and not settled."
    checks = Payment.objects.filter(method=Payment.Method.CHECK, slip=None, returned_on=None)
    held = sum(checks.values_list("amount", flat=True), Decimal(0))
    booked = _booked(Account.CHECKS)[None]
    if booked != held:
        yield f"checks in hand are {booked:f} in the books, {held:f} by what was taken and not banked."


def _booked(account: Account) -> dict[int | None, Decimal]:
    return totals(Posting.objects.filter(account=account).values_list("payer", "amount").order_by())


def _differences(
    name: str, booked: dict[int | None, Decimal], counted: dict[int, Decimal], of_what: str
) -> Iterator[str]:
    for payer in sorted({*booked, *counted}, key=lambda pk: pk or 0):
        in_books, on_paper = booked.get(payer, Decimal(0)), counted.get(payer or 0, Decimal(0))
        if in_books != on_paper:
            yield f"payer {payer}: {name} in the books is {in_books:f}, {of_what} are {on_paper:f}."
