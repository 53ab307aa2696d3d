"""Credit on account: used for what is open, or given back; never more than there is, never twice."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from billing.invoices.models import Invoice
from billing.invoices.queries import invoices_shown
from billing.journal.models import Account, Posting
from billing.payments.actions import take_payment
from billing.payments.credit import give_credit_back, use_credit
from billing.payments.models import Payment, Refund, RefundPart
from billing.payments.queries import credit_on_account, payers_shown, payments_shown
from billing.payments.verification import faults_of_allocations, faults_of_balances, faults_of_refunds
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def pay(payer, owner_manager):
    def pay(amount: str) -> Payment:
        return take_payment(
            payer=payer,
            amount=Decimal(amount),
            method=Payment.Method.TRANSFER,
            received_on=DAY,
            allocations={},
            at=AT,
            by=owner_manager,
        )

    return pay


@pytest.fixture
def give_back(payer, owner_manager):
    def give_back(amount: str, **more) -> Refund:
        fields = {"method": Payment.Method.CASH, "on": DAY, "at": AT, "by": owner_manager, **more}
        return give_credit_back(payer=payer, amount=Decimal(amount), **fields)

    return give_back


def open_of(invoice: Invoice) -> Decimal:
    return invoices_shown(DAY).get(pk=invoice.pk).open


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def is_clean() -> bool:
    return not [fault for check in (faults_of_allocations, faults_of_balances, faults_of_refunds) for fault in check()]


def test_credit_settles_the_invoice_due_first_and_then_the_next(payer, pay, owner_manager):
    one, two = issued_invoice(payer, owner_manager), issued_invoice(payer, owner_manager)
    pay("100.00")
    pay("20.00")
    used = use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
    assert list(used.values()) == [Decimal("95.00"), Decimal("25.00")]
    assert (open_of(one), open_of(two), credit_on_account(payer)) == (0, Decimal("70.00"), 0)
    assert (balance(Account.CREDIT), balance(Account.RECEIVABLE)) == (0, Decimal("70.00"))
    assert trail_of(two)[0].action == "credit used"
    assert is_clean()


def test_credit_that_comes_later_adds_to_the_same_part(payer, pay, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    payment = pay("10.00")
    use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
    assert open_of(invoice) == Decimal("85.00")
    payment.allocations.update(amount=Decimal("4.00"))  # six were freed by hand, as a credit note does it
    Posting.objects.create(
        transaction=Posting.objects.first().transaction, account=Account.CREDIT, payer=payer, amount=Decimal("-6.00")
    )
    use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
    assert payment.allocations.get().amount == Decimal("10.00")


def test_without_credit_or_without_an_open_invoice_nothing_is_brought_together(payer, pay, owner_manager):
    with pytest.raises(Refused, match="no credit, or no open invoice"):
        use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
    pay("10.00")
    with pytest.raises(Refused, match="no credit, or no open invoice"):
        use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)


def test_a_refund_takes_the_oldest_credit_first_and_leaves_the_rest(payer, pay, give_back):
    first, second = pay("10.00"), pay("20.00")
    refund = give_back("15.00", reference="check 221")
    assert refund.number == 1
    assert dict(RefundPart.objects.values_list("payment", "amount")) == {first.pk: 10, second.pk: 5}
    assert credit_on_account(payer) == Decimal("15.00")
    assert [payment.credit for payment in payments_shown().order_by("pk")] == [0, Decimal("15.00")]
    assert payers_shown().get(pk=payer.pk).credit == Decimal("15.00")
    assert (balance(Account.CREDIT), balance(Account.CASH)) == (Decimal("-15.00"), Decimal("-15.00"))
    assert [entry.action for entry in trail_of(refund)] == ["credit given back"]
    assert is_clean()


@pytest.mark.parametrize(
    ("amount", "more", "sentence"),
    [
        ("30.01", {}, "has $30.00 of credit, less than $30.01"),
        ("0", {}, "more than nothing"),
        ("-5", {}, "more than nothing"),
        ("0.001", {}, "has 2 decimals"),
        ("5.00", {"on": date(2026, 12, 1)}, "ahead of today"),
    ],
)
def test_a_refund_that_cannot_be_is_refused(pay, give_back, amount, more, sentence):
    pay("30.00")
    with pytest.raises(Refused, match=re.escape(sentence)):
        give_back(amount, **more)
    assert not Refund.objects.exists()


def test_verify_names_a_refund_that_was_changed_by_hand(pay, give_back):
    pay("30.00")
    refund = give_back("10.00")
    RefundPart.objects.update(amount=Decimal("40.00"))
    assert list(faults_of_refunds()) == [f"refund {refund.number} is 10.000, its parts sum to 40.000."]
    assert any("of it is used" in fault for fault in faults_of_allocations())
    Refund.objects.update(number=7)
    assert "refund number 1 is missing." in list(faults_of_refunds())


def test_the_account_page_offers_both_and_shows_what_was_given_back(as_owner_manager, payer, pay, owner_manager):
    page = reverse("billing:payer", args=[payer.pk])
    assert "Give credit back" not in as_owner_manager.get(page).content.decode()
    pay("100.00")
    invoice = issued_invoice(payer, owner_manager)
    assert "Use the credit for what is open" in as_owner_manager.get(page).content.decode()
    as_owner_manager.post(reverse("billing:payer-use-credit", args=[payer.pk]))
    assert open_of(invoice) == 0
    address = reverse("billing:payer-give-back", args=[payer.pk])
    assert 'value="5.00"' in as_owner_manager.get(address).content.decode()
    refused = as_owner_manager.post(address, {"amount": "6.00", "method": "cash", "reference": "Envelope"})
    assert "less than $6.00" in refused.content.decode()
    assert "Envelope" in refused.content.decode()
    as_owner_manager.post(address, {"amount": "5.00", "method": "cash", "reference": "Envelope"})
    assert "Envelope" in as_owner_manager.get(page).content.decode()


def test_an_assistant_moves_no_credit(as_assistant, payer, pay):
    pay("10.00")
    for name in ("payer-use-credit", "payer-give-back"):
        assert as_assistant.post(reverse(f"billing:{name}", args=[payer.pk])).status_code == 403


@pytest.mark.drawn
def test_what_is_given_back_has_its_paper(payer, pay, give_back, as_owner_manager):
    pay("100.00")
    refund = give_back("60.00", reference="by the gate")
    with refund.receipt.file.open() as file:
        text = " ".join(PdfReader(file).pages[0].extract_text().split())
    for words in ("Refund", str(payer), "Payment 1,", "100.00", "60.00", "by the gate"):
        assert words in text
    page = as_owner_manager.get(reverse("billing:payer", args=[payer.pk])).content.decode()
    assert reverse("backoffice:document", args=[refund.receipt_id]) in page
