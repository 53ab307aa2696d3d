from decimal import Decimal

import pytest

from billing.journal.actions import post
from billing.journal.models import Account, Posting, Transaction
from tests.factories.billing import DAY
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db


def test_an_event_in_balance_is_written_with_its_source():
    payer = PersonFactory()
    entry = post(
        day=DAY,
        text="Invoice 2026-0001",
        source=payer,
        entries=[(Account.RECEIVABLE, Decimal("95"), payer), (Account.INCOME_SESSIONS, Decimal("-95"), None)],
    )
    assert (entry.source, entry.source_pk) == ("clients.person", payer.pk)
    assert sum(Posting.objects.values_list("amount", flat=True)) == 0


def test_what_does_not_sum_to_zero_is_not_written():
    with pytest.raises(ValueError, match="do not sum to zero"):
        post(day=DAY, text="x", source=PersonFactory(), entries=[(Account.CASH, Decimal("0.01"), None)])
    assert not Transaction.objects.exists()


def test_amounts_of_nothing_leave_no_posting():
    entries = [
        (Account.CASH, Decimal(5), None),
        (Account.CREDIT, Decimal(-5), None),
        (Account.TAX_PAYABLE, Decimal(0), None),
    ]
    post(day=DAY, text="x", source=PersonFactory(), entries=entries)
    assert Posting.objects.count() == 2
