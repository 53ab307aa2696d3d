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
from billing.journal.actions import Entry, post
from billing.journal.models import Account
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.numbers.actions import take_number
from billing.payments.models import Allocation, Payment
from billing.vouchers.actions import use_voucher
from billing.vouchers.models import Voucher
from clients.barnside.models import HandMoney
from clients.people.models import Person

HELD_ON = {
    Payment.Method.CASH: Account.CASH,
    Payment.Method.CHECK: Account.CHECKS,
    Payment.Method.TRANSFER: Account.BANK,
    Payment.Method.CARD: Account.CARD_CLEARING,
    Payment.Method.VOUCHER: Account.VOUCHERS,
    Payment.Method.BROUGHT: Account.CAPITAL,
}
HIGHEST = Decimal(1_000_000)
EARLIEST = date(2000, 1, 1)


def take_payment(
    *,
    payer: Person,
    amount: Decimal,
    method: Payment.Method,
    received_on: date,
    allocations: Mapping[Invoice, Decimal],
    at: datetime,
    by: User,
    reference: str = "",
    tip: Decimal = Decimal(0),
    hand_money: HandMoney | None = None,
    voucher: Voucher | None = None,
) -> Payment:
    """Money from a payer, over some of their invoices, each in full or in part; what is over is credit on account.

    `tip` is the part of it that they gave on top.

    `voucher` is the one that pays: only what is open, the rest stays on it.

    `hand_money` is what was taken in the barn and becomes this payment, once.
    """
    prepare_renderer()  # its import takes a second, too long for the lock that everybody waits for
    payment = Payment(
        payer=payer,
        amount=amount,
        method=method,
        received_on=received_on,
        reference=reference.strip(),
        tip=tip,
        recorded_at=at,
        recorded_by=by,
        hand_money=hand_money,
        voucher=voucher,
    )
    return _take(payment=payment, allocations=allocations, at=at, by=by)


@audit.action
def _take(*, payment: Payment, allocations: Mapping[Invoice, Decimal], at: datetime, by: User) -> Payment:
    currency = the_business().currency
    _refuse_bad_amount(payment.amount, currency)
    if payment.hand_money is not None and Payment.objects.filter(hand_money=payment.hand_money).exists():
        raise Refused("This money from the barn is booked already.")
    _refuse_bad_day(payment.received_on, today=local_date(at))
    owed = {invoice.pk: invoice for invoice in open_invoices(payment.payer, payment.received_on)}
    for invoice, part in allocations.items():
        _refuse_bad_part(payment, owed.get(invoice.pk), part, currency)
    if payment.tip < 0 or round_money(payment.tip, currency) != payment.tip:
        raise Refused(f"A tip is nothing or more, with {minor_digits(currency)} decimals.")
    spare = payment.amount - payment.tip - sum(allocations.values(), Decimal(0))
    if spare < 0:
        over, told = say_amount(-spare, currency), " and the tip" if payment.tip else ""
        raise Refused(
            f"The invoices{told} take {over} more than the payment of {say_amount(payment.amount, currency)}."
        )
    _use_voucher(payment, spare)
    payment.number = take_number("payment")
    payment.save(force_insert=True)
    Allocation.objects.bulk_create(
        Allocation(payment=payment, invoice=invoice, amount=part) for invoice, part in allocations.items()
    )
    _write_receipt(payment, [(owed[invoice.pk], part) for invoice, part in allocations.items()], spare)
    post(
        day=payment.received_on,
        text=f"Payment {payment.number}",
        source=payment,
        entries=_entries(payment, payment.amount - payment.tip - spare, spare),
    )
    changes = {"number": payment.number, "payer": payment.payer_id, "amount": payment.amount, "credit": spare}
    audit.record("payment taken", payment, at=at, by=by, changes=changes)
    return payment


def _use_voucher(payment: Payment, spare: Decimal) -> None:
    if (payment.method == Payment.Method.VOUCHER) != (payment.voucher is not None):
        raise Refused("Name the gift voucher by its code.")
    if payment.voucher is None:
        return
    if spare or payment.tip:
        raise Refused("A gift voucher pays what is open; the rest stays on it.")
    payment.voucher = use_voucher(payment.voucher, payment.amount, payment.received_on)


def _refuse_bad_amount(amount: Decimal, currency: str) -> None:
    if amount <= 0:
        raise Refused("A payment is more than nothing.")
    if amount > HIGHEST:
        raise Refused(f"A payment is at most {say_amount(HIGHEST, currency)}. Check the amount.")
    if round_money(amount, currency) != amount:
        raise Refused(f"An amount of {currency} has {minor_digits(currency)} decimals.")


def _refuse_bad_day(received_on: date, *, today: date) -> None:
    if received_on > today:
        raise Refused("Money is not received ahead of today.")
    if received_on < EARLIEST:
        raise Refused(f"The day is before {EARLIEST.year}. Check the year.")


def _refuse_bad_part(payment: Payment, invoice: Invoice | None, part: Decimal, currency: str) -> None:
    if invoice is None:
        raise Refused(f"That is not an open invoice of {payment.payer}.")
    if part <= 0:
        raise Refused(f"The part for invoice {invoice.name} is more than nothing.")
    if round_money(part, currency) != part:
        raise Refused(f"An amount of {currency} has {minor_digits(currency)} decimals.")
    owed: Decimal = invoice.open
    if part > owed:
        raise Refused(
            f"Invoice {invoice.name} has {say_amount(owed, currency)} open, less than {say_amount(part, currency)}."
        )


def _write_receipt(payment: Payment, settled: list[tuple[Invoice, Decimal]], spare: Decimal) -> None:
    lines = [
        {"invoice": invoice.name, "total": invoice.total, "part": part, "left": invoice.open - part}
        for invoice, part in settled
    ]
    content = render_pdf("documents/receipt.html", {"payment": payment, "lines": lines, "credit": spare})
    payment.receipt = store_document(
        kind=Document.Kind.RECEIPT,
        title=f"Receipt {payment.number}",
        content=content,
        at=payment.recorded_at,
        by=payment.recorded_by,
    )
    payment.save(update_fields=["receipt"])


def _entries(payment: Payment, settled: Decimal, spare: Decimal) -> list[Entry]:
    return [
        (HELD_ON[Payment.Method(payment.method)], payment.amount, None),
        (Account.RECEIVABLE, -settled, payment.payer),
        (Account.CREDIT, -spare, payment.payer),
        (Account.TIPS, -payment.tip, None),
    ]
