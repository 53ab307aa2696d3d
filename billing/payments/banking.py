"""What was taken goes to the bank: checks and cash on a slip, card money as a payout; a check may come back unpaid."""

from collections.abc import Sequence
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
from billing.journal.actions import post
from billing.journal.models import Account
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.numbers.actions import take_number
from billing.payments.models import CardPayout, DepositSlip, Payment
from billing.payments.queries import balance_of


def bank_takings(*, checks: Sequence[Payment], cash: Decimal, on: date, at: datetime, by: User) -> DepositSlip:
    """Checks in hand and some of the cash go to the bank together, on a slip with their total."""
    prepare_renderer()
    return _bank(checks=checks, cash=cash, on=on, at=at, by=by)


@audit.action
def _bank(*, checks: Sequence[Payment], cash: Decimal, on: date, at: datetime, by: User) -> DepositSlip:
    currency = the_business().currency
    rows = list(
        Payment.objects.select_for_update(of=("self",))
        .select_related("payer")
        .filter(pk__in=[check.pk for check in checks])
        .order_by("received_on", "number")
    )
    _refuse_bad_amount(cash, currency)
    for check in rows:
        if check.method != Payment.Method.CHECK or check.slip_id is not None or check.returned_on is not None:
            raise Refused(f"Payment {check.number} is no check that is still in hand.")
        if check.received_on > on:
            raise Refused(f"Payment {check.number} was received after {on:%-d %b %Y}.")
    in_hand = balance_of(Account.CASH)
    if cash > in_hand:
        raise Refused(
            f"There is {say_amount(in_hand, currency)} of cash in hand, less than {say_amount(cash, currency)}."
        )
    total = sum((check.amount for check in rows), cash)
    if not total:
        raise Refused("A slip holds a check, or cash.")
    if on > local_date(at):
        raise Refused("Nothing is banked ahead of today.")
    slip = DepositSlip(
        number=take_number("deposit_slip"), banked_on=on, cash=cash, total=total, recorded_at=at, recorded_by=by
    )
    content = render_pdf("documents/deposit_slip.html", {"slip": slip, "checks": rows})
    slip.document = store_document(kind=Document.Kind.DEPOSIT_SLIP, title=str(slip), content=content, at=at, by=by)
    slip.save(force_insert=True)
    Payment.objects.filter(pk__in=[check.pk for check in rows]).update(slip=slip)
    entries = [(Account.BANK, total, None), (Account.CHECKS, cash - total, None), (Account.CASH, -cash, None)]
    post(day=on, text=str(slip), source=slip, entries=entries)
    audit.record("takings banked", slip, at=at, by=by, changes={"checks": [check.pk for check in rows], "total": total})
    return slip


@audit.action
def note_returned_check(*, payment: Payment, reason: str, on: date, at: datetime, by: User) -> Payment:
    """A check came back unpaid: what it had settled is open again, and its credit is gone."""
    payment = Payment.objects.select_for_update(of=("self",)).select_related("payer").get(pk=payment.pk)
    if payment.method != Payment.Method.CHECK or payment.returned_on is not None:
        raise Refused("Only a check that was taken, and has not come back yet, can come back.")
    if payment.refund_parts.exists():
        raise Refused("Some of this check was given back to the payer. Ask them for it, and write that down first.")
    if on < payment.received_on or on > local_date(at):
        raise Refused("A check comes back after it was taken, and not ahead of today.")
    settled = sum(payment.allocations.values_list("amount", flat=True), Decimal(0))
    Invoice.objects.filter(allocations__payment=payment).update(is_settled=False)
    payment.allocations.all().delete()
    payment.returned_on, payment.returned_reason = on, reason.strip()
    payment.save(update_fields=["returned_on", "returned_reason"])
    held_on = Account.BANK if payment.slip_id else Account.CHECKS
    entries = [
        (Account.RECEIVABLE, settled, payment.payer),
        (Account.CREDIT, payment.amount - payment.tip - settled, payment.payer),
        (Account.TIPS, payment.tip, None),
        (held_on, -payment.amount, None),
    ]
    post(day=on, text=f"Check of payment {payment.number} came back", source=payment, entries=entries)
    audit.record("check returned", payment, at=at, by=by, changes={"amount": payment.amount, "settled": settled})
    return payment


@audit.action
def note_card_payout(
    *, amount: Decimal, fee: Decimal, on: date, reference: str = "", at: datetime, by: User
) -> CardPayout:
    """What the card service paid into the bank, and what it kept; together never more than the cards brought."""
    currency, waiting = the_business().currency, balance_of(Account.CARD_CLEARING)
    for given in (amount, fee):
        _refuse_bad_amount(given, currency)
    if not amount + fee:
        raise Refused("A payout is more than nothing.")
    if amount + fee > waiting:
        raise Refused(
            f"Cards brought {say_amount(waiting, currency)} that is not paid out yet, less than "
            f"{say_amount(amount + fee, currency)} with the fee."
        )
    if on > local_date(at):
        raise Refused("Nothing is paid out ahead of today.")
    payout = CardPayout.objects.create(
        paid_on=on, amount=amount, fee=fee, reference=reference.strip(), recorded_at=at, recorded_by=by
    )
    entries = [
        (Account.BANK, amount, None),
        (Account.CARD_FEES, fee, None),
        (Account.CARD_CLEARING, -amount - fee, None),
    ]
    post(day=on, text=str(payout), source=payout, entries=entries)
    audit.record("card payout noted", payout, at=at, by=by, changes={"amount": amount, "fee": fee})
    return payout


def _refuse_bad_amount(amount: Decimal, currency: str) -> None:
    if amount < 0 or round_money(amount, currency) != amount:
        raise Refused(f"An amount of {currency} is 0 or more, with {minor_digits(currency)} decimals.")
