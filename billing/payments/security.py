"""Security deposits: held, given back, or kept with a reason. Never income until kept, and never taxed by itself."""

from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import prepare_renderer, render_pdf
from backoffice.refusal import Refused
from billing.journal.actions import Entry, post
from billing.journal.models import Account
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.numbers.actions import take_number
from billing.payments.actions import HELD_ON
from billing.payments.credit import PAID_FROM
from billing.payments.models import Payment, SecurityDeposit
from clients.people.models import Person

KEPT_ON = {
    SecurityDeposit.KeptFor.DAMAGE: Account.INCOME_FEES,
    SecurityDeposit.KeptFor.DAYS: Account.INCOME_HIRE,
}


def take_security(
    *, person: Person, amount: Decimal, method: Payment.Method, what: str, on: date, at: datetime, by: User
) -> SecurityDeposit:
    """Money that is held, with a receipt that says that it comes back."""
    prepare_renderer()
    return _take(person=person, amount=amount, method=method, what=what.strip(), on=on, at=at, by=by)


@audit.action
def _take(
    *, person: Person, amount: Decimal, method: Payment.Method, what: str, on: date, at: datetime, by: User
) -> SecurityDeposit:
    currency = the_business().currency
    if method == Payment.Method.VOUCHER:
        raise Refused("A deposit is money, not a gift voucher.")
    if method == Payment.Method.CHECK:
        raise Refused("A deposit by check is taken as a payment on account until the check is good.")
    if amount <= 0 or round_money(amount, currency) != amount:
        raise Refused(f"A deposit is more than nothing, with {minor_digits(currency)} decimals.")
    if not what:
        raise Refused("Say what it is held for, such as the machine.")
    if on > local_date(at):
        raise Refused("Nothing is taken ahead of today.")
    deposit = SecurityDeposit(
        number=take_number("security"),
        person=person,
        what=what,
        amount=amount,
        method=method,
        taken_on=on,
        recorded_at=at,
        recorded_by=by,
    )
    content = render_pdf("documents/security_deposit.html", {"deposit": deposit})
    deposit.receipt = store_document(kind=Document.Kind.RECEIPT, title=str(deposit), content=content, at=at, by=by)
    deposit.save(force_insert=True)
    entries = [(HELD_ON[method], amount, None), (Account.DEPOSITS_HELD, -amount, None)]
    post(day=on, text=str(deposit), source=deposit, entries=entries)
    changes = {"number": deposit.number, "person": person.pk, "amount": amount}
    audit.record("security deposit taken", deposit, at=at, by=by, changes=changes)
    return deposit


@audit.action
def settle_security(
    *,
    deposit: SecurityDeposit,
    kept: Decimal,
    kept_for: str,
    reason: str,
    method: Payment.Method,
    on: date,
    at: datetime,
    by: User,
) -> SecurityDeposit:
    """Give it back, all but what is `kept`; what is kept for damage is outside of tax, for more days it is hire."""
    deposit = SecurityDeposit.objects.select_for_update().get(pk=deposit.pk)
    currency = the_business().currency
    if deposit.settled_on is not None:
        raise Refused("This deposit is settled already.")
    if not 0 <= kept <= deposit.amount or round_money(kept, currency) != kept:
        raise Refused(f"Between nothing and {say_amount(deposit.amount, currency)} is kept.")
    if kept and (not reason.strip() or kept_for not in SecurityDeposit.KeptFor.values):
        raise Refused("What is kept needs a reason, and whether it is for damage or for more days.")
    if on > local_date(at) or on < deposit.taken_on:
        raise Refused("It is settled after it was taken, and not ahead of today.")
    deposit.settled_on, deposit.kept, deposit.given_back = on, kept, deposit.amount - kept
    deposit.given_back_by = method if deposit.given_back else ""
    deposit.kept_for, deposit.kept_reason = (kept_for, reason.strip()) if kept else ("", "")
    deposit.save()
    entries: list[Entry] = [
        (Account.DEPOSITS_HELD, deposit.amount, None),
        (PAID_FROM[method], -deposit.given_back, None),
    ]
    if kept:
        entries.append((KEPT_ON[SecurityDeposit.KeptFor(kept_for)], -kept, None))
    post(day=on, text=f"{deposit} settled", source=deposit, entries=entries)
    changes = {"given_back": deposit.given_back, "kept": kept, "kept_for": deposit.kept_for}
    audit.record("security deposit settled", deposit, at=at, by=by, changes=changes)
    return deposit
