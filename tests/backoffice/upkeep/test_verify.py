"""Each thing that `verify` looks at is broken by hand, and named."""

from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection

from backoffice.documents.models import Document
from backoffice.documents.seal import seal_pdf
from backoffice.upkeep.verification import all_checks, look
from billing.invoices.models import Charge, ChargeShare, Invoice, InvoiceLine
from billing.journal.models import Account, Posting
from billing.packages.sold import Use
from billing.payments.actions import take_payment
from billing.payments.models import Allocation, Payment
from clients.paperwork.models import Decision
from clients.visits.models import Visit
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import AnimalFactory, PersonFactory
from tests.factories.packages import sold_package

pytestmark = pytest.mark.usefixtures("private_folder")


@pytest.fixture
def books(business, owner_manager) -> tuple[Invoice, Payment]:
    """Two invoices of one payer, the first paid with 5.00 left over; every visit decided on."""
    payer = PersonFactory()
    first, _ = (issued_invoice(payer, owner_manager) for _ in range(2))
    payment = take_payment(
        payer=payer,
        amount=first.total + 5,
        method=Payment.Method.CASH,
        received_on=DAY,
        allocations={first: first.total},
        at=AT,
        by=owner_manager,
    )
    for visit in Visit.objects.all():
        Visit.objects.filter(pk=visit.pk).update(start_decision=visit.booking_decision)
    return first, payment


def wrong() -> list[str]:
    return [fault for finding in look() for fault in finding.faults]


def by_hand(*statements: str) -> None:
    """SQL past every rule of the database: what a person with the file could do."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            cursor.execute(statement)
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def without_rule(table: str, name: str) -> None:
    """Take a constraint away, so that what it forbids can be done."""
    if connection.vendor == "postgresql":
        by_hand("SET CONSTRAINTS ALL IMMEDIATE", f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {name}")
    by_hand(f"DROP INDEX IF EXISTS {name}")


def named(part: str) -> bool:
    return any(part in sentence for sentence in wrong())


def test_real_work_has_nothing_wrong(books):
    assert wrong() == []


def test_the_command_says_what_it_looked_at(books):
    out = StringIO()
    call_command("verify", stdout=out)
    told = out.getvalue()
    assert told.endswith("Nothing wrong.\n")
    assert "2 issued invoices" in told
    assert "1 payments with 1 allocations" in told
    assert told.count("ok ") == len(all_checks())


def test_the_command_ends_with_status_1_when_something_is_wrong(books):
    Posting.objects.filter(account=Account.CASH).update(amount=1)
    out = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("verify", stdout=out)
    assert ended.value.code == 1
    assert "WRONG  transactions sum to zero" in out.getvalue()


def test_an_empty_installation_has_nothing_wrong(db):
    assert wrong() == []


def test_a_changed_audit_entry_is_named(books):
    by_hand("UPDATE backoffice_entry SET action = 'x' WHERE number = 2")
    assert wrong() == ["audit: entry 2 was changed after it was written."]


def test_a_flipped_byte_in_a_file_is_named(books, private_folder):
    document = books[0].document
    file = private_folder / document.file.name
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    assert named(f"document {document.pk} (invoice): its file is not the one that was stored (SHA-256 differs).")


def test_a_missing_file_is_named(books, private_folder):
    document = books[0].document
    (private_folder / document.file.name).unlink()
    assert wrong() == [f"document {document.pk} (invoice): its file {document.file.name} is missing."]


def test_a_seal_broken_together_with_its_hash_is_named(books, private_folder, now):
    import hashlib

    document = books[0].document
    file = private_folder / document.file.name
    content = file.read_bytes() if document.is_sealed else seal_pdf(file.read_bytes(), reason="Issued", at=now)
    content += b"\n% more"
    file.write_bytes(content)
    Document.objects.filter(pk=document.pk).update(is_sealed=True, sha256=hashlib.sha256(content).hexdigest())
    assert wrong() == [f"document {document.pk} (invoice): its file was added to after it was sealed."]


def test_a_file_without_a_row_is_named(books, private_folder):
    folder = private_folder / "documents" / "2026" / "03"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "stray.pdf").write_bytes(b"%PDF")
    assert wrong() == ["file documents/2026/03/stray.pdf belongs to no document."]


def test_a_gap_in_the_invoice_numbers_is_named(books):
    by_hand(f"UPDATE billing_invoice SET number = 9 WHERE id = {books[0].pk}")
    found = wrong()
    assert "invoice number 1 is missing." in found
    assert "invoice number 9 was never given out (the next one is 3)." in found


def test_a_twin_of_an_invoice_number_is_named(books):
    if connection.vendor == "sqlite":  # a unique column cannot be loosened here without a new table
        from billing.numbers.verification import faults_of_series

        assert "invoice number 1 is there twice." in list(faults_of_series("invoice", [1, 1, 2]))
        return
    by_hand(
        "SET CONSTRAINTS ALL IMMEDIATE",
        "ALTER TABLE billing_invoice DROP CONSTRAINT billing_invoice_number_key",
        "UPDATE billing_invoice SET number = 1",
    )
    assert named("invoice number 1 is there twice.")


def test_a_gap_in_the_payment_numbers_is_named(books):
    by_hand("UPDATE billing_numberseries SET next_number = 3 WHERE name = 'payment'")
    assert wrong() == ["payment number 2 is missing."]


def test_a_gap_in_the_quote_numbers_is_named(books):
    by_hand("INSERT INTO billing_numberseries (name, first_number, next_number) VALUES ('quote', 1, 2)")
    assert wrong() == ["quote number 1 is missing."]


def test_a_transaction_out_of_balance_is_named(books):
    posting = Posting.objects.filter(account=Account.CASH).get()
    by_hand(f"UPDATE billing_posting SET amount = amount + 1 WHERE id = {posting.pk}")
    assert wrong() == [f"transaction {posting.transaction_id} ({DAY}) is out of balance by 1.000."]


def test_a_transaction_without_postings_is_named(books):
    posting = Posting.objects.filter(account=Account.CASH).get()
    by_hand(f"DELETE FROM billing_posting WHERE transaction_id = {posting.transaction_id}")
    assert named(f"transaction {posting.transaction_id} ({DAY}) has no postings.")


def test_books_that_disagree_with_the_invoices_are_named(books):
    invoice, _ = books
    for account in (Account.RECEIVABLE, Account.INCOME_SESSIONS):
        sign = "+" if account == Account.RECEIVABLE else "-"
        posting = Posting.objects.filter(account=account).order_by("pk").first()
        by_hand(f"UPDATE billing_posting SET amount = amount {sign} 10 WHERE id = {posting.pk}")
    (sentence,) = wrong()
    assert sentence.startswith(f"payer {invoice.payer_id}: receivable in the books is 105.000, open invoices are 95")


def test_credit_that_disagrees_with_the_payments_is_named(books):
    _, payment = books
    by_hand(f"UPDATE billing_posting SET amount = 0 WHERE account = 'credit' AND payer_id = {payment.payer_id}")
    assert named(f"payer {payment.payer_id}: credit on account in the books is 0")


def test_shares_that_do_not_add_up_are_named(books):
    share = ChargeShare.objects.order_by("pk").first()
    by_hand(f"UPDATE billing_chargeshare SET amount = 90 WHERE id = {share.pk}")
    assert named(f"charge {share.charge_id} is 95.000, its shares sum to 90.000.")


def test_a_session_charged_twice_is_named(books):
    first, second = Charge.objects.filter(kind=Charge.Kind.SESSION).order_by("pk")[:2]
    without_rule("billing_charge", "session_charged_once")
    by_hand(f"UPDATE billing_charge SET session_id = {first.session_id} WHERE id = {second.pk}")
    assert named(f"session {first.session_id} is charged 2 times.")


def test_a_session_that_is_charged_and_used_from_a_package_is_named(books, owner_manager):
    session = Charge.objects.filter(kind=Charge.Kind.SESSION).first().session
    sold = sold_package(books[0].payer, session.service, owner_manager)
    Use.objects.create(
        session=session, sold=sold, reason="1 of 10", used_on=DAY, confirmed_at=AT, confirmed_by=owner_manager
    )
    assert wrong() == [f"session {session.pk} is charged and used from a package."]


def test_a_charge_for_work_not_done_is_named(books):
    charge = Charge.objects.filter(kind=Charge.Kind.SESSION).order_by("pk").first()
    Visit.objects.filter(pk=charge.visit_id).update(status=Visit.Status.BOOKED)
    assert wrong() == [f"charge {charge.pk} is for a session of a visit that is not completed."]


def test_invoice_lines_that_do_not_add_up_are_named(books):
    invoice, _ = books
    InvoiceLine.objects.filter(invoice=invoice).update(net=Decimal(90))
    assert named(f"invoice {invoice.name}: its lines sum to 90.000, it says 95")


def test_an_invoice_total_without_its_tax_is_named(books):
    invoice, _ = books
    Invoice.objects.filter(pk=invoice.pk).update(tax=Decimal("4.75"))
    assert named(f"invoice {invoice.name}: 95.000 and tax 4.750 are not 95.000.")


def test_an_issued_invoice_without_its_document_is_named(books):
    invoice, _ = books
    without_rule("billing_invoice", "issued_invoice_is_frozen")
    by_hand(f"UPDATE billing_invoice SET document_id = NULL WHERE id = {invoice.pk}")
    assert wrong() == [f"invoice {invoice.name} has no document."]


def test_an_invoice_that_bills_somebody_else_is_named(books):
    line = InvoiceLine.objects.order_by("pk").first()
    ChargeShare.objects.filter(pk=line.charge_share_id).update(payer=PersonFactory())
    assert wrong() == [f"invoice {line.invoice.name} bills a share of somebody else (line {line.position})."]


def test_more_allocated_than_the_payment_holds_is_named(books):
    _, payment = books
    Allocation.objects.update(amount=payment.amount + 1)
    assert named(f"payment {payment.number} is 100.000, 101.000 of it is used.")


def test_more_allocated_than_the_invoice_asks_is_named(books):
    invoice, _ = books
    Allocation.objects.update(amount=invoice.total + 1)
    assert named(f"invoice {invoice.name} asks for 95.000, 96.000 is allocated to it.")


def test_money_of_one_payer_on_the_invoice_of_another_is_named(books):
    invoice, payment = books
    Payment.objects.filter(pk=payment.pk).update(payer=PersonFactory())
    assert named(f"payment {payment.number} settles invoice {invoice.name} of another payer.")


def test_money_on_a_draft_is_named(books):
    draft = Invoice.objects.create(payer=books[1].payer, made_at=AT, currency="USD")
    Allocation.objects.update(invoice=draft)
    assert named(f"invoice {draft.pk} is a draft and has money allocated to it.")


def test_a_visit_without_its_permission_is_named(books):
    visit = Visit.objects.order_by("pk").first()
    without_rule("clients_visit", "booked_visit_has_a_decision")
    by_hand(f"UPDATE clients_visit SET booking_decision_id = NULL WHERE id = {visit.pk}")
    assert wrong() == [f"visit {visit.pk} of {DAY} has no permission decision."]


def test_a_visit_started_without_permission_is_named(books):
    visit = Visit.objects.order_by("pk").first()
    Visit.objects.filter(pk=visit.pk).update(start_decision=None)
    assert wrong() == [f"visit {visit.pk} of {DAY} was started without a permission decision."]


def test_a_decision_about_another_horse_is_named(books):
    visit = Visit.objects.order_by("pk").first()
    Decision.objects.filter(pk=visit.booking_decision_id).update(animal=AnimalFactory())
    assert f"visit {visit.pk} of {DAY} rests on a decision about another horse." in wrong()


def test_a_visit_booked_on_hold_is_named(books):
    visit = Visit.objects.order_by("pk").first()
    Decision.objects.filter(pk=visit.booking_decision_id).update(result=Decision.Result.HOLD)
    assert wrong() == [f"visit {visit.pk} of {DAY} was booked on hold."]
