from collections.abc import Iterator

from billing.journal.models import Posting, Transaction
from billing.money.totals import totals


def count_looked_at() -> str:
    return f"{Transaction.objects.count()} transactions with {Posting.objects.count()} postings"


def faults_of_balance() -> Iterator[str]:
    """A sentence for each transaction whose postings do not sum to zero, or that has none."""
    sums = totals(Posting.objects.values_list("transaction", "amount").order_by().iterator())
    for entry in Transaction.objects.order_by("pk").iterator():
        if entry.pk not in sums:
            yield f"transaction {entry.pk} ({entry.day}) has no postings."
        elif sums[entry.pk] != 0:
            yield f"transaction {entry.pk} ({entry.day}) is out of balance by {sums[entry.pk]:f}."
