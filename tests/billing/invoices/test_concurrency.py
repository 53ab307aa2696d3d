"""Fifty threads issue at once, on whichever database the suite runs: no gap, no twin, nothing half."""

from decimal import Decimal

import pytest

from backoffice.audit.queries import breaks_in_chain
from backoffice.refusal import Refused
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Invoice
from billing.journal.models import Posting, Transaction
from billing.numbers.models import NumberSeries
from tests.at_once import at_once
from tests.factories.backoffice import BusinessFactory, UserFactory
from tests.factories.billing import AT, DAY, finished_visit, owned_horse, priced_service
from tests.factories.clients import PersonFactory

ISSUERS = 50


def drafts_of(payers: int) -> tuple[list[Invoice], object]:
    BusinessFactory()
    by = UserFactory()
    service = priced_service()
    for _ in range(payers):
        finished_visit(owned_horse(PersonFactory()), service)
    confirm_charges(day=DAY, at=AT, by=by)
    return draft_invoices(at=AT, by=by), by


def issuing(draft, by):
    return lambda: issue_invoice(invoice=draft, on=DAY, at=AT, by=by).number


@pytest.mark.django_db(transaction=True)
def test_fifty_at_once_leave_no_gap_and_no_twin():
    drafts, by = drafts_of(ISSUERS)
    numbers = at_once([issuing(draft, by) for draft in drafts])
    assert sorted(numbers) == list(range(1, ISSUERS + 1))
    assert NumberSeries.objects.get(name="invoice").next_number == ISSUERS + 1
    issued = Invoice.objects.filter(state="issued", document__isnull=False, frozen__isnull=False)
    assert issued.count() == Transaction.objects.count() == ISSUERS
    assert sum(Posting.objects.values_list("amount", flat=True), Decimal(0)) == 0
    assert not list(breaks_in_chain())


@pytest.mark.django_db(transaction=True)
def test_one_draft_issued_by_many_at_once_is_issued_once():
    (draft,), by = drafts_of(1)
    answers = at_once([issuing(draft, by) for _ in range(8)])
    assert [answer for answer in answers if answer == 1] == [1]
    assert sum(isinstance(answer, Refused) for answer in answers) == 7
    assert NumberSeries.objects.get(name="invoice").next_number == 2
