"""What comes off a draft: booking deposits that were paid for, and discounts that were agreed as an amount."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from billing.invoices.by_hand import charge_whole
from billing.invoices.models import Charge, Invoice, InvoiceLine
from billing.money.totals import totals
from billing.packages.sold import Deduction
from billing.prices.queries import tax_book

OFF = {Deduction.Kind.DEPOSIT: Charge.Kind.DEPOSIT_OFF, Deduction.Kind.DISCOUNT: Charge.Kind.DISCOUNT}


def take_off(invoice: Invoice, lines: Sequence[InvoiceLine], outside: bool | None, *, at: datetime, by: User) -> None:
    """As far as the draft asks for work: it never falls below zero, what is over waits for the next.

    `outside` says whether the draft has only what is outside of tax, or only the rest; it takes off only the same.
    """
    asked = sum((line.amount for line in lines if line.charge_share.charge.kind != Charge.Kind.DEPOSIT), Decimal(0))
    position, book = max(line.position for line in lines), tax_book()
    for deduction, rest in _standing(invoice):
        part = min(rest, asked)
        its_own = book.is_outside(deduction.tax_category, invoice.payer_id, deduction.agreed_on)
        if part <= 0 or outside not in {None, its_own}:
            continue
        position, asked = position + 1, asked - part
        charge = _charge(deduction, -part, at=at, by=by)
        InvoiceLine.objects.create(
            invoice=invoice,
            position=position,
            charge_share=charge.shares.get(),
            text=charge.text,
            reason=charge.reason,
            amount=-part,
        )
        changes = {"kind": charge.kind, "deduction": deduction, "amount": charge.amount}
        audit.record("deduction taken off", charge, at=at, by=by, changes=changes)


def _standing(invoice: Invoice) -> Iterable[tuple[Deduction, Decimal]]:
    deductions = list(Deduction.objects.filter(payer=invoice.payer))
    charges = list(Charge.objects.filter(deduction__in=deductions, state=Charge.State.CONFIRMED))
    taken = totals((charge.deduction_id, -charge.amount) for charge in charges if charge.kind != Charge.Kind.DEPOSIT)
    invoiced = InvoiceLine.objects.filter(
        charge_share__charge__kind=Charge.Kind.DEPOSIT, invoice__state=Invoice.State.ISSUED
    )
    paid_for = totals(
        invoiced.filter(charge_share__charge__in=charges).values_list("charge_share__charge__deduction", "amount")
    )
    for deduction in deductions:
        is_deposit = deduction.kind == Deduction.Kind.DEPOSIT
        whole = paid_for.get(deduction.pk, Decimal(0)) if is_deposit else deduction.amount
        yield deduction, whole - taken.get(deduction.pk, Decimal(0))


def _charge(deduction: Deduction, amount: Decimal, *, at: datetime, by: User) -> Charge:
    kind = Deduction.Kind(deduction.kind)
    return charge_whole(
        kind=OFF[kind],
        payer=deduction.payer,
        amount=amount,
        on=deduction.agreed_on,
        at=at,
        by=by,
        deduction=deduction,
        text=f"{kind.label} taken off",
        reason=deduction.reason,
        tax_category=deduction.tax_category,
    )


def put_back(invoice: Invoice) -> list[int]:
    """The charges that exist only for this draft; they go with it."""
    kinds = list(OFF.values())
    lines = InvoiceLine.objects.filter(invoice=invoice, charge_share__charge__kind__in=kinds)
    return list(lines.values_list("charge_share__charge", flat=True))
