from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import models

from backoffice.audit import actions as audit
from billing.journal.models import Account, Posting, Transaction
from clients.people.models import Person

Entry = tuple[Account, Decimal, Person | None]


@audit.action
def post(*, day: date, text: str, source: models.Model, entries: Sequence[Entry]) -> Transaction:
    """Write one event into the journal: (account, amount, payer), debit positive; refuses to be out of balance."""
    if sum((amount for _, amount, _ in entries), Decimal(0)) != 0:
        raise ValueError(f"The postings of {source} do not sum to zero.")
    entry = Transaction.objects.create(day=day, text=text, source=source._meta.label_lower, source_pk=source.pk)
    Posting.objects.bulk_create(
        Posting(transaction=entry, account=account, amount=amount, payer=payer)
        for account, amount, payer in entries
        if amount != 0
    )
    return entry
