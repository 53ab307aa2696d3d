from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from backoffice.refusal import Refused
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.payments.queries import money_from_the_barn
from tests.factories.barnside import HandMoneyFactory
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def payer(business):
    return PersonFactory(name="Imani Velloran")


def address(payer) -> str:
    return reverse("billing:payment-new", args=[payer.pk])


def typed(**changes: str) -> dict[str, str]:
    return {"amount": "95.00", "method": "check", "received_on": DAY.isoformat(), "reference": "", **changes}


def test_taking_a_payment_settles_the_oldest_and_shows_the_receipt(as_owner_manager, owner_manager, payer):
    invoice = issued_invoice(payer, owner_manager)
    response = as_owner_manager.post(address(payer), typed(), follow=True)
    page = response.content.decode()
    assert "Payment 1 is taken." in page
    assert f"Invoice {invoice.name}" in page
    receipt = as_owner_manager.get(reverse("backoffice:document", args=[Payment.objects.get().receipt_id]))
    assert receipt.content.startswith(b"%PDF")


def test_the_form_opens_with_what_the_asked_invoice_has_open(as_owner_manager, owner_manager, payer):
    issued_invoice(payer, owner_manager, "95.00")
    second = issued_invoice(payer, owner_manager, "45.00")
    page = as_owner_manager.get(address(payer), {"invoice": second.pk}).content.decode()
    assert 'value="45.00"' in page


def test_the_asked_invoice_is_settled_before_older_ones(as_owner_manager, owner_manager, payer):
    issued_invoice(payer, owner_manager, "95.00")
    second = issued_invoice(payer, owner_manager, "45.00")
    as_owner_manager.post(f"{address(payer)}?invoice={second.pk}", typed(amount="45.00"))
    assert Payment.objects.get().allocations.get().invoice == second


def test_chosen_parts_win_over_the_order(as_owner_manager, owner_manager, payer):
    first = issued_invoice(payer, owner_manager, "95.00")
    second = issued_invoice(payer, owner_manager, "45.00")
    parts = {f"invoice-{first.pk}": "5", f"invoice-{second.pk}": "45"}
    as_owner_manager.post(address(payer), typed(amount="60", **parts))
    payment = Payment.objects.get()
    assert {each.invoice_id: each.amount for each in payment.allocations.all()} == {first.pk: 5, second.pk: 45}
    page = as_owner_manager.get(payment.get_absolute_url()).content.decode()
    assert "Credit on account" in page
    assert "$10.00" in page


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("amount", "0", "Write 0.01 or more."),
        ("amount", "-5", "Write 0.01 or more."),
        ("amount", "99999999", "Write 1,000,000 or less."),
        ("amount", "a lot", "Write an amount in figures, such as 95.00."),
        ("amount", "", "Amount is missing."),
        ("received_on", "1926-03-02", "before 1980"),
        ("received_on", "1999-03-02", "before 2000"),
        ("received_on", "2026-03-03", "still to come"),
        ("received_on", "soon", "Write a date such as"),
        ("method", "gold", "Choose one from the list."),
        ("reference", "x" * 200, "at most 120 characters"),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(as_owner_manager, payer, field, value, sentence):
    response = as_owner_manager.post(address(payer), typed(**{"reference": "Check 204", field: value}))
    assert response.status_code == 422
    page = response.content.decode()
    assert sentence in page
    assert field == "reference" or "Check 204" in page
    assert not Payment.objects.exists()


def test_more_than_is_open_is_said_at_the_invoice(as_owner_manager, owner_manager, payer):
    invoice = issued_invoice(payer, owner_manager)
    response = as_owner_manager.post(address(payer), typed(amount="200", **{f"invoice-{invoice.pk}": "150"}))
    assert response.status_code == 422
    assert f"Only $95.00 is open on invoice {invoice.name}." in response.content.decode()


def test_parts_beyond_the_amount_are_said_at_the_amount(as_owner_manager, owner_manager, payer):
    invoice = issued_invoice(payer, owner_manager)
    response = as_owner_manager.post(address(payer), typed(amount="10", **{f"invoice-{invoice.pk}": "50"}))
    assert response.status_code == 422
    assert "The invoices below take $50.00, more than came in." in response.content.decode()


@pytest.mark.parametrize("reference", ["ليلى الكحلاني", "🐴", "<script>alert(1)</script>"])
def test_a_reference_in_any_script_is_kept_and_never_run(as_owner_manager, payer, reference):
    as_owner_manager.post(address(payer), typed(reference=reference))
    payment = Payment.objects.get()
    assert payment.reference == reference
    assert "<script>alert" not in as_owner_manager.get(payment.get_absolute_url()).content.decode()


def test_the_account_shows_what_is_open_what_came_in_and_the_credit(as_bookkeeper, owner_manager, payer):
    issued_invoice(payer, owner_manager)
    as_bookkeeper.post(address(payer), typed(amount="100.00"))
    page = as_bookkeeper.get(reverse("billing:payer", args=[payer.pk])).content.decode()
    assert "Nothing is owed." in page
    assert "$5.00" in page


def test_the_overview_is_red_only_while_work_is_not_charged(as_owner_manager, owner_manager, payer):
    page = as_owner_manager.get(reverse("billing:money")).content.decode()
    assert "all finished work is charged" in page
    assert "notice hold" not in page


@pytest.mark.parametrize(("name", "count"), [("payments", 5), ("payers", 5)])
def test_lists_take_the_same_queries_at_1_and_at_30_rows(
    as_owner_manager, owner_manager, payer, *, name, count, django_assert_num_queries
):
    def pay(number: int) -> None:
        Payment.objects.create(
            number=number,
            payer=PersonFactory(),
            received_on=DAY,
            amount=Decimal(5),
            method="cash",
            recorded_at=AT,
            recorded_by=owner_manager,
        )

    pay(1)
    with django_assert_num_queries(count):
        as_owner_manager.get(reverse(f"billing:{name}"))
    for number in range(2, 31):
        pay(number)
    with django_assert_num_queries(count):
        as_owner_manager.get(reverse(f"billing:{name}"))


def test_payments_are_found_filtered_sorted_and_exported(as_owner_manager, payer):
    as_owner_manager.post(address(payer), typed(reference="Check 204"))
    listed = reverse("billing:payments")
    assert "Imani" in as_owner_manager.get(listed, {"q": "imani 204"}).content.decode()
    assert "Imani" not in as_owner_manager.get(listed, {"method": "cash"}).content.decode()
    assert "Imani" in as_owner_manager.get(listed, {"sort": "-amount"}).content.decode()
    assert "95" in as_owner_manager.get(listed, {"_export": "csv"}).content.decode()


def test_an_assistant_sees_no_money(as_assistant, payer):
    for name in ("money", "payments", "payers"):
        assert as_assistant.get(reverse(f"billing:{name}")).status_code == 403
    assert as_assistant.get(reverse("billing:payer", args=[payer.pk])).status_code == 403
    assert as_assistant.get(address(payer)).status_code == 403


def test_money_taken_in_the_barn_becomes_one_payment(as_owner_manager, owner_manager):
    taken = HandMoneyFactory(event__person=owner_manager, amount=Decimal("95.00"), method="check", words="1042")
    address = f"{reverse('billing:payment-new', args=[taken.person_id])}?barn={taken.pk}"
    html = as_owner_manager.get(address).content.decode()
    assert 'value="95.00"' in html
    assert 'value="1042"' in html
    as_owner_manager.post(address, typed(reference="1042"))
    payment = Payment.objects.get()
    assert (payment.hand_money, payment.amount, payment.reference) == (taken, Decimal("95.00"), "1042")
    assert not money_from_the_barn().exists()
    with pytest.raises(Refused, match="booked already"):
        take_payment(
            payer=payment.payer,
            amount=payment.amount,
            method=Payment.Method.CHECK,
            received_on=DAY,
            allocations={},
            hand_money=taken,
            at=AT,
            by=owner_manager,
        )
