"""The statement of a payer is what the books say: each move, the balance after it, and what was brought forward."""

import subprocess
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from billing.invoices.crediting import credit_invoice
from billing.invoices.queries import lines_of
from billing.payments.actions import take_payment
from billing.payments.credit import give_credit_back, use_credit
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account, payers_shown, statement_of
from billing.payments.statement import moves_from
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory
from tests.pdf_tools import needs_tool

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
NEW_YEAR = date(2026, 1, 1)


@pytest.fixture
def payer(business, owner_manager):
    """95 paid with 120; the 25 over used for a second invoice, which is credited whole; then 20 given back."""
    payer = PersonFactory(name="Desmond Quarrie")
    one = issued_invoice(payer, owner_manager)
    take_payment(
        payer=payer,
        amount=Decimal("120.00"),
        method=Payment.Method.CASH,
        received_on=DAY,
        allocations={one: Decimal("95.00")},
        at=AT,
        by=owner_manager,
    )
    two = issued_invoice(payer, owner_manager)
    use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
    (line,) = lines_of(two)
    credit_invoice(invoice=two, amounts={line: line.amount}, reason="Twice.", on=DAY, at=AT, by=owner_manager)
    give_credit_back(payer=payer, amount=Decimal("20.00"), method=Payment.Method.CASH, on=DAY, at=AT, by=owner_manager)
    return payer


def test_each_move_changes_the_balance_and_what_moves_nothing_is_left_out(payer):
    found = statement_of(payer, since=NEW_YEAR, until=DAY)
    assert [(move.text, str(move.amount), str(move.balance)) for move in found.moves] == [
        ("Invoice 2026-0001", "95.000", "95.000"),
        ("Payment 1", "-120.000", "-25.000"),
        ("Invoice 2026-0002", "95.000", "70.000"),
        ("Credit note 2026-C0001", "-95.000", "-25.000"),
        ("Refund 1", "20.000", "-5.000"),
    ]


def test_it_closes_with_what_is_owed_less_credit_wherever_it_begins(payer):
    owes = payers_shown().get(pk=payer.pk).owes - credit_on_account(payer)
    for since in (NEW_YEAR, DAY, date(2026, 3, 3)):
        assert statement_of(payer, since=since, until=date(2026, 3, 4)).closing == owes == Decimal("-5.00")
    later = statement_of(payer, since=date(2026, 3, 3), until=date(2026, 3, 4))
    assert (later.opening, list(later.moves)) == (Decimal("-5.00"), [])


def test_moves_without_an_event_are_none():
    assert moves_from(Decimal(7), []) == []


def test_an_open_invoice_is_aged(business, owner_manager):
    invoice = issued_invoice(PersonFactory(), owner_manager)
    ages = statement_of(invoice.payer, since=NEW_YEAR, until=date(2026, 5, 1)).ages
    assert (ages.total, ages.to_60) == (Decimal("95.00"), Decimal("95.00"))


def test_a_statement_takes_the_same_queries_however_long_it_is(payer, owner_manager, django_assert_num_queries):
    with django_assert_num_queries(2):
        statement_of(payer, since=NEW_YEAR, until=DAY)
    for _ in range(5):
        issued_invoice(payer, owner_manager)
    with django_assert_num_queries(2):
        statement_of(payer, since=NEW_YEAR, until=DAY)


def test_the_page_and_a_day_that_cannot_be(as_owner_manager, payer, time_machine):
    time_machine.move_to(AT, tick=False)
    address = reverse("billing:payer-statement", args=[payer.pk])
    page = as_owner_manager.get(address).content.decode()
    for words in ("Brought forward", "Credit note 2026-C0001", "Credit on account"):
        assert words in page
    assert "still to come" in as_owner_manager.get(address, {"since": "2026-12-01"}).content.decode()
    assert address in as_owner_manager.get(reverse("billing:payer", args=[payer.pk])).content.decode()


@needs_tool("pdftotext")
@pytest.mark.drawn
def test_the_paper_says_the_same(as_owner_manager, payer, time_machine):
    time_machine.move_to(AT, tick=False)
    asked = {"since": "2026-01-01", "paper": "1"}
    answer = as_owner_manager.get(reverse("billing:payer-statement", args=[payer.pk]), asked)
    assert (answer["Content-Type"], answer["Cache-Control"]) == ("application/pdf", "no-store")
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=answer.content, capture_output=True, check=True)
    text = done.stdout.decode()
    for words in ("Statement", "Desmond Quarrie", "Refund 1", "Brought forward"):
        assert words in text


def test_an_assistant_sees_no_statement(as_assistant, payer):
    assert as_assistant.get(reverse("billing:payer-statement", args=[payer.pk])).status_code == 403
