from datetime import date, datetime, timedelta
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_given
from backoffice.documents.models import Document
from backoffice.documents.uploads import Given
from backoffice.refusal import Refused
from billing.books.models import Expense, MileageClaim
from billing.books.queries import mileage_to_claim
from billing.journal.actions import Entry, close_month, post
from billing.journal.models import Account, ClosedMonth
from billing.journal.queries import first_of_next
from billing.money.rounding import minor_digits, round_money
from billing.packages.actions import earn_ended_months

HIGHEST = Decimal(1_000_000)


@audit.action
def write_expense(*, expense: Expense, photo: Given | None = None, at: datetime, by: User) -> Expense:
    """Book a purchase; its tax is what a bill of somebody else's says."""
    currency = the_business().currency
    if expense.day > local_date(at):
        raise Refused("Nothing is spent ahead of today.")
    for amount in (expense.amount, expense.tax):
        if round_money(amount, currency) != amount or amount > HIGHEST:
            raise Refused(f"An amount of {currency} is a million at most, with {minor_digits(currency)} decimals.")
    if expense.amount <= 0 or not 0 <= expense.tax <= expense.amount:
        raise Refused("An expense is more than nothing, and its tax is a part of it.")
    expense.recorded_at, expense.recorded_by = at, by
    if photo is not None:
        kind, title = Document.Kind.BILL, f"Bill: {expense.what}"
        (expense.photo,) = store_given(kind=kind, title=title, given=[photo], at=at, by=by)
    expense.save(force_insert=True)
    post(day=expense.day, text=f"Expense: {expense.what}"[:120], source=expense, entries=_entries(expense))
    changes = {"category": expense.category, "amount": expense.amount, "tax": expense.tax}
    audit.record("expense written", expense, at=at, by=by, changes=changes)
    return expense


@audit.action
def take_back_expense(*, expense: Expense, on: date, at: datetime, by: User) -> Expense:
    """It was a mistake: booked back today, and it stays here as taken back."""
    expense = Expense.objects.select_for_update().get(pk=expense.pk)
    if expense.undone_on is not None:
        raise Refused("This expense is taken back already.")
    expense.undone_on = on
    expense.save(update_fields=["undone_on"])
    entries = [(account, -amount, payer) for account, amount, payer in _entries(expense)]
    post(day=on, text=f"Taken back: {expense.what}"[:120], source=expense, entries=entries)
    audit.record("expense taken back", expense, at=at, by=by, changes={"amount": expense.amount})
    return expense


def _entries(expense: Expense) -> list[Entry]:
    return [
        (Account.EXPENSES, expense.amount - expense.tax, None),
        (Account.TAX_PAID, expense.tax, None),
        (Account(expense.paid_from), -expense.amount, None),
    ]


@audit.action
def end_month(*, month: date, today: date, at: datetime, by: User) -> ClosedMonth:
    """Earn what plan months owe, book the confirmed mileage, and close the month: nothing is booked there any more."""
    first = month.replace(day=1)
    last = first_of_next(first) - timedelta(days=1)
    if last >= today:
        raise Refused(f"{first:%B %Y} is not over yet.")
    earn_ended_months(last)
    metres, amount = mileage_to_claim(first, the_business())
    if amount and not MileageClaim.objects.filter(first_day=first).exists():
        claim = MileageClaim.objects.create(first_day=first, metres=metres, amount=amount, booked_at=at)
        entries = [(Account.MOTOR_EXPENSE, amount, None), (Account.CAPITAL, -amount, None)]
        post(day=last, text=str(claim), source=claim, entries=entries)
    return close_month(month=first, today=today, at=at, by=by)
