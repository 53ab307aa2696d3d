"""What a payer will not pay is given up by a person, and taken up again when they pay after all."""

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from billing.invoices.models import Invoice, WriteOff
from billing.invoices.queries import invoices_shown
from billing.journal.actions import Entry, post
from billing.journal.models import Account
from billing.money.rounding import round_money


@audit.action
def write_off(
    *, invoice: Invoice, reason: str, on: date, at: datetime, by: User, relieves_tax: bool = False
) -> WriteOff:
    """Give up all that is open. `relieves_tax` where the law gives tax on bad debts back: its part then leaves what is
    owed to the tax office, in proportion."""
    Invoice.objects.select_for_update().get(pk=invoice.pk)
    found = invoices_shown(on).get(pk=invoice.pk)
    if not found.open or found.open <= 0:
        raise Refused("Nothing of this invoice is open.")
    if not reason.strip():
        raise Refused("Writing off needs a reason.")
    if on > local_date(at):
        raise Refused("Nothing is written off ahead of today.")
    amount = round_money(found.open, found.currency)
    tax = round_money(Fraction(amount) * Fraction(found.tax) / Fraction(found.total), found.currency)
    given_up = WriteOff.objects.create(
        invoice=found,
        on=on,
        amount=amount,
        tax=tax if relieves_tax else Decimal(0),
        reason=reason.strip(),
        recorded_at=at,
        recorded_by=by,
    )
    post(day=on, text=f"{found} written off", source=given_up, entries=_entries(given_up))
    audit.record("invoice written off", found, at=at, by=by, changes={"amount": amount, "tax": given_up.tax})
    return given_up


@audit.action
def take_up_again(*, given_up: WriteOff, on: date, at: datetime, by: User) -> WriteOff:
    """Ask for it again: the invoice is open as before."""
    given_up = WriteOff.objects.select_for_update(of=("self",)).select_related("invoice__payer").get(pk=given_up.pk)
    if given_up.undone_on is not None:
        raise Refused("This is asked for again already.")
    given_up.undone_on = on
    given_up.save(update_fields=["undone_on"])
    Invoice.objects.filter(pk=given_up.invoice_id).update(is_settled=False)
    entries = [(account, -amount, payer) for account, amount, payer in _entries(given_up)]
    post(day=on, text=f"{given_up.invoice} asked for again", source=given_up, entries=entries)
    changes = {"amount": given_up.amount}
    audit.record("write-off taken back", given_up.invoice, at=at, by=by, changes=changes)
    return given_up


def _entries(given_up: WriteOff) -> list[Entry]:
    return [
        (Account.BAD_DEBTS, given_up.amount - given_up.tax, None),
        (Account.TAX_PAYABLE, given_up.tax, None),
        (Account.RECEIVABLE, -given_up.amount, given_up.invoice.payer),
    ]
