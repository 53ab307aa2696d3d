"""Credit notes: what was wrong is taken back, to the cent and to whoever was charged; the invoice stands as it is."""

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Charge, CreditLine, CreditNote, Invoice
from billing.invoices.queries import invoices_shown, lines_of, proposals_for, uncharged_sessions
from billing.invoices.verification import faults_of_credit_numbers, faults_of_invoices
from billing.journal.models import Account, Posting
from billing.numbers.models import NumberSeries
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account, payers_shown
from billing.payments.verification import faults_of_allocations, faults_of_balances
from tests.factories.billing import (
    AT,
    DAY,
    CallOutRuleFactory,
    TaxRateFactory,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
)
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


def credit(invoice: Invoice, by, amounts: Iterable[str | None] = (), **more) -> CreditNote:
    """By the lines in their order; without amounts all of it."""
    lines = lines_of(invoice)
    given = [Decimal(amount or 0) for amount in amounts] or [line.amount for line in lines]
    fields = {"reason": "Charged by mistake.", "on": DAY, "at": AT, **more}
    return credit_invoice(invoice=invoice, amounts=dict(zip(lines, given, strict=True)), by=by, **fields)


def pay(invoice: Invoice, by, amount: str) -> Payment:
    return take_payment(
        payer=invoice.payer,
        amount=Decimal(amount),
        method=Payment.Method.CASH,
        received_on=DAY,
        allocations={invoice: min(Decimal(amount), invoice.total)},
        at=AT,
        by=by,
    )


def shown(invoice: Invoice) -> tuple[str, Decimal | None]:
    found = invoices_shown(DAY).get(pk=invoice.pk)
    return found.shown, found.open


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def is_clean() -> bool:
    checks = (faults_of_invoices, faults_of_credit_numbers, faults_of_allocations, faults_of_balances)
    return not [fault for check in checks for fault in check()]


def two_lines(payer, by) -> Invoice:
    """A session of 95.00 and a call-out of 30.00."""
    CallOutRuleFactory(amount=Decimal("30.00"))
    finished_visit(owned_horse(payer), priced_service("95.00"))
    confirm_charges(day=DAY, at=AT, by=by)
    (draft,) = draft_invoices(at=AT, by=by)
    return issue_invoice(invoice=draft, on=DAY, at=AT, by=by)


def test_a_whole_invoice_taken_back_leaves_nothing_owed_and_no_income(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    paper = bytes_of(invoice.document)
    note = credit(invoice, owner_manager)
    invoice.refresh_from_db()
    assert (note.name, note.total, invoice.state) == ("2026-C0001", Decimal("95.00"), Invoice.State.CREDITED)
    assert shown(invoice) == ("credited", None)
    assert balance(Account.RECEIVABLE) == balance(Account.INCOME_SESSIONS) == 0
    assert (bytes_of(invoice.document), invoice.total) == (paper, Decimal("95.00"))
    assert note.document.kind == Document.Kind.CREDIT_NOTE
    assert [entry.action for entry in trail_of(note)] == ["invoice credited"]
    assert payers_shown().get(pk=payer.pk).owes == 0
    assert is_clean()


def test_a_part_of_a_line_lowers_what_is_open_until_nothing_is_left(payer, owner_manager):
    invoice = two_lines(payer, owner_manager)
    credit(invoice, owner_manager, ["20.00", None])
    assert shown(invoice) == ("due", Decimal("105.00"))
    assert payers_shown().get(pk=payer.pk).owes == Decimal("105.00")
    credit(invoice, owner_manager, ["75.00", None])
    with pytest.raises(Refused, match=r"has \$0.00 left to take back"):
        credit(invoice, owner_manager, ["0.01", None])
    credit(invoice, owner_manager, [None, "30.00"])
    invoice.refresh_from_db()
    assert invoice.state == Invoice.State.CREDITED
    assert [note.number for note in CreditNote.objects.order_by("pk")] == [1, 2, 3]
    assert is_clean()


@pytest.mark.parametrize("included", [False, True])
def test_tax_goes_back_in_proportion_and_to_the_cent_in_whatever_steps(payer, owner_manager, included):
    TaxRateFactory(percent=Decimal("7.25"), is_included=included)
    invoice = two_lines(payer, owner_manager)
    assert invoice.tax
    for amounts in (["33.33", None], ["33.33", "10.00"], ["28.34", "20.00"]):
        credit(invoice, owner_manager, amounts)
    notes = CreditNote.objects.all()
    assert sum(note.tax for note in notes) == invoice.tax
    assert sum(note.total for note in notes) == invoice.total
    assert balance(Account.TAX_PAYABLE) == balance(Account.RECEIVABLE) == balance(Account.INCOME_CALL_OUTS) == 0
    assert is_clean()


def test_what_was_paid_already_becomes_credit_on_account(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    pay(invoice, owner_manager, "95.00")
    credit(invoice, owner_manager, ["40.00"])
    assert credit_on_account(payer) == Decimal("40.00")
    assert shown(invoice) == ("paid", Decimal("0.00"))
    assert (balance(Account.CREDIT), balance(Account.RECEIVABLE)) == (Decimal("-40.00"), 0)
    credit(invoice, owner_manager, ["55.00"])
    assert credit_on_account(payer) == Decimal("95.00")
    assert is_clean()


def test_a_part_payment_is_freed_only_where_it_is_more_than_what_is_left(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    pay(invoice, owner_manager, "50.00")
    credit(invoice, owner_manager, ["40.00"])
    assert (credit_on_account(payer), shown(invoice)) == (0, ("part-paid", Decimal("5.00")))
    credit(invoice, owner_manager, ["20.00"])
    assert credit_on_account(payer) == Decimal("15.00")
    assert is_clean()


def test_work_taken_back_whole_can_be_charged_anew(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    (line,) = lines_of(invoice)
    credit(invoice, owner_manager, anew=[line])
    assert uncharged_sessions().count() == 1
    (proposal,) = proposals_for(DAY)
    assert proposal.amount == Decimal("95.00")
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    assert sorted(Charge.objects.values_list("state", flat=True)) == ["confirmed", "taken_back"]
    assert is_clean()


def test_shared_work_is_charged_anew_only_when_each_part_is_taken_back(payer, owner_manager):
    other = PersonFactory(name="Corin Ashlund")
    finished_visit(owned_horse((payer, "1/2"), (other, "1/2")), priced_service("95.00"))
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    drafts = draft_invoices(at=AT, by=owner_manager)
    one, two = (issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager) for draft in drafts)
    with pytest.raises(Refused, match="the part of .* too"):
        credit(one, owner_manager, anew=lines_of(one))
    assert not CreditNote.objects.exists()
    credit(one, owner_manager)
    credit(two, owner_manager, anew=lines_of(two))
    assert uncharged_sessions().count() == 1
    assert {note.invoice.payer.name: note.total for note in CreditNote.objects.all()} == {
        "Desmond Quarrie": Decimal("47.50"),
        "Corin Ashlund": Decimal("47.50"),
    }
    assert is_clean()


@pytest.mark.parametrize(
    ("amounts", "more", "sentence"),
    [
        (["0"], {}, "more than nothing"),
        (["95.01"], {}, "has $95.00 left to take back"),
        (["-1.00"], {}, "has $95.00 left to take back"),
        (["0.001"], {}, "has 2 decimals"),
        (["95.00"], {"reason": " "}, "says why"),
        (["95.00"], {"on": date(2026, 3, 1)}, "or later"),
        (["95.00"], {"on": date(2026, 12, 1)}, "ahead of today"),
    ],
)
def test_a_bad_credit_note_is_refused_and_takes_no_number(payer, owner_manager, amounts, more, sentence):
    invoice = issued_invoice(payer, owner_manager)
    with pytest.raises(Refused, match=re.escape(sentence)):
        credit(invoice, owner_manager, amounts, **more)
    assert not CreditNote.objects.exists()
    assert not NumberSeries.objects.filter(name="credit_note").exists()


def test_verify_names_a_note_that_was_changed_by_hand_and_one_that_is_gone(payer, owner_manager):
    invoice = two_lines(payer, owner_manager)
    note = credit(invoice, owner_manager, ["20.00", None])
    CreditLine.objects.filter(credit_note=note).update(amount=Decimal("200.00"), net=Decimal("200.00"))
    found = list(faults_of_invoices())
    assert "credit note 2026-C0001 is 20.00, its lines sum to 200.00." in [
        fault.replace("0.000", "0.00") for fault in found
    ]
    assert any("more taken back of line 1" in fault for fault in found)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM billing_creditline")
        cursor.execute("DELETE FROM billing_creditnote")
    assert list(faults_of_credit_numbers()) == ["credit_note number 1 is missing."]
    assert list(faults_of_balances())


def test_the_page_takes_back_a_line_and_shows_the_note(as_owner_manager, payer, owner_manager, time_machine):
    time_machine.move_to(AT, tick=False)
    invoice = two_lines(payer, owner_manager)
    session, call_out = lines_of(invoice)
    address = reverse("billing:invoice-credit", args=[invoice.pk])
    page = as_owner_manager.get(address).content.decode()
    assert "$95.00 is left. Empty: the line stands." in page
    said = {f"amount_{session.pk}": "95.00", f"anew_{session.pk}": "on", f"amount_{call_out.pk}": ""}
    assert "Why is missing." in as_owner_manager.post(address, said).content.decode()
    assert as_owner_manager.post(address, {**said, "reason": "Their package pays."}).status_code == 302
    page = as_owner_manager.get(invoice.get_absolute_url()).content.decode()
    for words in ("2026-C0001", "Their package pays.", "Credited", "$30.00"):
        assert words in page
    assert uncharged_sessions().count() == 1
    refused = as_owner_manager.post(address, {f"amount_{call_out.pk}": "31.00", "reason": "x"}).content.decode()
    assert "has $30.00 left to take back" in refused
    assert as_owner_manager.post(address, {"everything": "on", "reason": "The rest."}).status_code == 302
    invoice.refresh_from_db()
    assert invoice.state == Invoice.State.CREDITED


def test_an_assistant_takes_nothing_back(as_assistant, payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    assert as_assistant.get(reverse("billing:invoice-credit", args=[invoice.pk])).status_code == 403
