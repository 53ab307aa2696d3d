from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import models

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from billing.journal.models import Account, ClosedMonth, LookedThrough, Posting, Transaction
from billing.journal.queries import first_of_next, open_from
from clients.people.models import Person

Entry = tuple[Account, Decimal, Person | None]


@audit.action
def post(*, day: date, text: str, source: models.Model, entries: Sequence[Entry]) -> Transaction:
    """Write one event into the journal: (account, amount, payer), debit positive; refuses to be out of balance, and a
    day whose month is closed."""
    refuse_closed(day)
    if sum((amount for _, amount, _ in entries), Decimal(0)) != 0:
        raise ValueError(f"The postings of {source} do not sum to zero.")
    entry = Transaction.objects.create(day=day, text=text, source=source._meta.label_lower, source_pk=source.pk)
    Posting.objects.bulk_create(
        Posting(transaction=entry, account=account, amount=amount, payer=payer)
        for account, amount, payer in entries
        if amount != 0
    )
    return entry


def refuse_closed(day: date) -> None:
    first = open_from()
    if first is not None and day < first:
        raise Refused(f"{day:%B %Y} is closed. Book it on {first:%-d %b %Y} or later.")


def open_day(day: date) -> date:
    """That day, or the first that is open: what follows from a booking lands in the open month."""
    first = open_from()
    return day if first is None else max(day, first)


def look_again_from(day: date) -> None:
    """Work of that day, or of days after it, may wait to be charged again."""
    LookedThrough.objects.filter(day__gte=day).update(day=day - timedelta(days=1))


@audit.action
def close_month(*, month: date, today: date, at: datetime, by: User) -> ClosedMonth:
    """Close the month that begins on `month`, and with it all before: nothing is booked there any more."""
    first_day = month.replace(day=1)
    if first_of_next(first_day) > today:
        raise Refused(f"{first_day:%B %Y} is not over yet.")
    refuse_closed(first_day)
    closed = ClosedMonth.objects.create(first_day=first_day, closed_at=at, closed_by=by)
    audit.record("month closed", closed, at=at, by=by, changes={"month": first_day})
    return closed
