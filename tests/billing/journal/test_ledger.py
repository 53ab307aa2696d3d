"""The exported books, checked by a published program of their own: beancount (GPL-2.0), release 3."""

import csv
import io
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from beancount import loader
from beancount.core.data import Balance, Transaction
from django.core.management import call_command
from openpyxl import load_workbook

from billing.invoices.models import Invoice
from billing.journal.ledger import ACCOUNTS, COLUMNS, Event, Leg, beancount
from billing.journal.models import Account, Posting
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory

NASTY = 'Ottilie "the \\ Quill"\nBrackwater'


def event(day: date, amount: str, number: int = 1) -> Event:
    part = Decimal(amount)
    return Event(number, day, "Invoice", "test 1", [Leg("receivable", part, NASTY), Leg("income_sessions", -part)])


def loaded(text: str):
    entries, errors, _ = loader.load_string(text)
    return entries, errors


def test_every_account_of_the_books_has_a_name_in_the_export():
    assert set(ACCOUNTS) == set(Account.values)


def test_a_ledger_of_two_months_is_read_without_an_error_and_asserts_each_month():
    lines = beancount([event(date(2026, 3, 2), "95.00"), event(date(2026, 4, 1), "0.10", 2)], title="A", currency="USD")
    entries, errors = loaded("\n".join(lines))
    assert errors == []
    assert len([entry for entry in entries if isinstance(entry, Transaction)]) == 2
    balances = [(entry.date, entry.account, entry.amount.number) for entry in entries if isinstance(entry, Balance)]
    assert (date(2026, 4, 1), "Assets:Receivable", Decimal("95.00")) in balances
    assert (date(2026, 4, 2), "Assets:Receivable", Decimal("95.10")) in balances


def test_one_cent_that_is_missing_is_found():
    text = "\n".join(beancount([event(date(2026, 3, 2), "95.00")], title="A", currency="USD"))
    _, errors = loaded(text.replace("balance Assets:Receivable  95.00", "balance Assets:Receivable  95.01"))
    assert len(errors) == 1


def test_no_event_makes_no_line_but_the_head():
    assert loaded("\n".join(beancount([], title=NASTY, currency="USD")))[1] == []


@pytest.fixture
def books(owner_manager, private_folder) -> Invoice:
    payer = PersonFactory(name='=HYPERLINK("x") Brackwater')
    invoice = issued_invoice(payer, owner_manager)
    take_payment(
        payer=payer,
        amount=Decimal("100.00"),
        method=Payment.Method.CASH,
        received_on=DAY,
        allocations={invoice: invoice.total},
        at=AT,
        by=owner_manager,
    )
    return invoice


def export(shape: str, **options: object) -> str:
    out = io.StringIO()
    call_command("export_ledger", format=shape, stdout=out, **options)
    return out.getvalue()


def test_the_books_of_the_business_pass_and_hold_every_posting(books):
    entries, errors = loaded(export("beancount"))
    assert errors == []
    postings = [posting for entry in entries if isinstance(entry, Transaction) for posting in entry.postings]
    assert len(postings) == Posting.objects.count() == 5
    credit = [posting.units.number for posting in postings if posting.account == "Liabilities:CreditOnAccount"]
    assert credit == [Decimal("-5.00")]


def test_a_table_has_a_row_for_each_posting_and_no_cell_that_a_program_would_reckon(books):
    head, *found = csv.reader(io.StringIO(export("csv")))
    assert tuple(head) == COLUMNS
    assert len(found) == 5
    assert sum(Decimal(row[5]) for row in found) == 0
    assert all(not row[6].startswith("=") for row in found)
    assert export("csv", until=date(2026, 1, 1)).count("\n") == 1


def test_a_workbook_holds_the_same_rows(books, capfdbinary):
    call_command("export_ledger", format="xlsx")
    sheet = load_workbook(BytesIO(capfdbinary.readouterr().out)).active
    assert [cell.value for cell in sheet[1]] == list(COLUMNS)
    assert sheet.max_row == 6


def test_balances_cannot_begin_in_the_middle(db, business):
    with pytest.raises(SystemExit) as ended:
        call_command("export_ledger", format="beancount", since=date(2026, 1, 1), stderr=io.StringIO())
    assert ended.value.code == 2
