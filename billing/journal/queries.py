from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import Prefetch

from billing.journal.ledger import Event, Leg
from billing.journal.models import ClosedMonth, Posting, Transaction
from billing.money.rounding import round_money

CHUNK = 2000


def events_between(since: date | None, until: date | None, currency: str) -> Iterator[Event]:
    """The events of the books by day, each with its legs, read a chunk at a time."""
    found = Transaction.objects.order_by("day", "pk")
    if since is not None:
        found = found.filter(day__gte=since)
    if until is not None:
        found = found.filter(day__lte=until)
    postings = Prefetch("postings", Posting.objects.select_related("payer").order_by("pk"))
    for entry in found.prefetch_related(postings).iterator(chunk_size=CHUNK):
        legs = [
            Leg(leg.account, round_money(leg.amount, currency), leg.payer.name if leg.payer else "")
            for leg in entry.postings.all()
        ]
        yield Event(entry.pk, entry.day, entry.text, f"{entry.source} {entry.source_pk}", legs)


def first_of_next(day: date) -> date:
    """The first day of the month that follows."""
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1)


def open_from() -> date | None:
    """The first day that takes postings; None while no month is closed."""
    last = ClosedMonth.objects.order_by("-first_day").values_list("first_day", flat=True).first()
    return first_of_next(last) if last is not None else None
