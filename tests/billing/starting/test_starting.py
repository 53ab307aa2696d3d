"""The first day: what a business brings along, and what becomes of it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from backoffice.refusal import Refused
from backoffice.upkeep.verification import money_checks
from billing.books.queries import EARNED, RECEIVED, tax_period, year_report
from billing.invoices.actions import confirm_charges
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import open_invoices, proposals_for
from billing.invoices.writing_off import write_off
from billing.journal.models import Account, Posting
from billing.mileage.queries import year_of_miles
from billing.packages.sold import Use
from billing.payments.actions import take_payment
from billing.payments.credit import use_credit
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account, payers_shown, statement_of
from billing.payments.security import settle_security
from billing.prices.rules import MileageRate, MoneyRules
from billing.reminders.actions import draft_reminders
from billing.reminders.models import ReminderStage
from billing.starting import actions
from clients.miles.models import Trip
from tests.factories.billing import AT, DAY, finished_visit, issued_invoice, owned_horse, priced_service
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business", "private_folder")]
YEAR = (date(2026, 1, 1), date(2026, 12, 31))


@pytest.fixture
def payer():
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def said(owner_manager):
    return {"at": AT, "by": owner_manager}


@pytest.fixture
def begun(said):
    return begin(said)


def begin(said, **terms):
    told = {"day": DAY, "bank": Decimal("1200.50"), "cash": Decimal(40), "first_numbers": {}, **terms}
    return actions.begin_books(**told, **said)


def old_invoice(payer, said, **terms) -> Invoice:
    told = {"name": "R-77/b", "issued_on": date(2026, 1, 20), "due_on": date(2026, 2, 3), "open_amount": Decimal(80)}
    return actions.bring_invoice(payer=payer, **{**told, **terms}, **said)


def faults() -> list[str]:
    return [fault for check in money_checks() for fault in check.faults()]


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def test_the_money_of_the_first_morning_and_the_numbers_that_go_on(payer, said, owner_manager):
    begin(said, first_numbers={"invoice": 101, "payment": 55})
    assert (balance(Account.BANK), balance(Account.CASH), balance(Account.CAPITAL)) == (
        Decimal("1200.50"),
        40,
        Decimal("-1240.50"),
    )
    assert issued_invoice(payer, owner_manager).name == "2026-0101"
    assert actions.bring_credit(payer=payer, amount=Decimal(5), **said).number == 55
    assert faults() == []
    with pytest.raises(Refused, match="written down already"):
        begin(said)


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({"day": DAY + timedelta(days=1)}, "not ahead of today"),
        ({"cash": Decimal("-0.01")}, "Write an amount up to a million"),
        ({"bank": Decimal(10_000_000)}, "Write an amount up to a million"),
        ({"bank": Decimal("0.001")}, "with 2 decimals"),
        ({"first_numbers": {"invoice": 1_000_000}}, "between 1 and 999,999"),
    ],
)
def test_what_no_first_day_can_be(said, terms, sentence):
    with pytest.raises(Refused, match=sentence):
        begin(said, **terms)


def test_nothing_is_booked_before_the_first_day_nor_numbered_twice(payer, said, owner_manager):
    issued_invoice(payer, owner_manager)
    with pytest.raises(Refused, match="given out already"):
        begin(said, first_numbers={"invoice": 5})
    late = {"at": AT + timedelta(days=2), "by": owner_manager}
    with pytest.raises(Refused, match="is booked on 2 Mar 2026 already"):
        begin(late, day=DAY + timedelta(days=1))


def test_an_old_invoice_is_owed_paid_and_reminded_of_like_any_other(begun, payer, said, owner_manager):
    invoice = old_invoice(payer, said)
    assert (str(invoice), balance(Account.RECEIVABLE)) == ("Invoice R-77/b", 80)
    assert [each.shown for each in open_invoices(payer, DAY)] == ["overdue"]
    assert payers_shown().get(pk=payer.pk).owes == 80
    ReminderStage.objects.create(days=7, words="Dear {name}, {invoice} over {open} is {days} days late.")
    (letter,) = draft_reminders(on=DAY, at=AT)
    assert "Invoice R-77/b over $80.00 is 27 days late" in letter.text
    assert statement_of(payer, since=date(2026, 1, 1), until=DAY).moves[0].text == "Invoice R-77/b of before"
    cash = {"method": Payment.Method.CASH, "received_on": DAY, **said}
    take_payment(payer=payer, amount=Decimal(30), allocations={invoice: Decimal(30)}, **cash)
    with pytest.raises(Refused, match="credited where it was made"):
        credit_invoice(invoice=invoice, amounts={}, reason="x", on=DAY, **said)
    write_off(invoice=invoice, reason="moved away", relieves_tax=False, on=DAY, **said)
    assert (balance(Account.RECEIVABLE), balance(Account.BAD_DEBTS)) == (0, 50)
    received, earned = (year_report(*YEAR, basis, "USD") for basis in (RECEIVED, EARNED))
    assert [(line.words, line.amount) for line in received.income] == [("From before these books", Decimal(30))]
    assert earned.income_total == 0
    assert tax_period(*YEAR, "payment", "USD").lines == []
    assert faults() == []


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({"name": " "}, "The old number is missing"),
        ({"open_amount": Decimal(0)}, "Write more than nothing"),
        ({"issued_on": DAY + timedelta(days=1), "due_on": DAY + timedelta(days=9)}, "is made here"),
        ({"due_on": date(2026, 1, 1)}, "due before it was issued"),
    ],
)
def test_what_no_old_invoice_can_be(begun, payer, said, terms, sentence):
    with pytest.raises(Refused, match=sentence):
        old_invoice(payer, said, **terms)


def test_an_old_number_comes_once_and_only_after_the_first_day_is_known(payer, said):
    with pytest.raises(Refused, match="first day of your books first"):
        old_invoice(payer, said)
    begin(said)
    old_invoice(payer, said)
    with pytest.raises(Refused, match="brought along already"):
        old_invoice(payer, said, name="r-77/B")


def test_credit_of_before_pays_new_work_and_is_no_income_twice(begun, payer, said, owner_manager):
    actions.bring_credit(payer=payer, amount=Decimal(100), **said)
    assert (credit_on_account(payer), balance(Account.CREDIT)) == (100, -100)
    issued_invoice(payer, owner_manager)
    use_credit(payer=payer, on=DAY, **said)
    report = year_report(*YEAR, RECEIVED, "USD")
    assert {line.words: line.amount for line in report.income} == {
        "Sessions": 95,
        "On account, for no invoice yet": 5,
        "From before these books": -100,
    }
    assert faults() == []


def test_a_deposit_of_before_is_held_and_given_back(begun, payer, said):
    deposit = actions.bring_security(person=payer, amount=Decimal(300), what="Machine one", **said)
    back = {"kept": Decimal(0), "kept_for": "", "reason": "", "method": Payment.Method.CASH, "on": DAY}
    settle_security(deposit=deposit, **back, **said)
    assert (balance(Account.DEPOSITS_HELD), balance(Account.CASH)) == (0, -260)
    assert faults() == []


def test_a_package_of_before_pays_the_sessions_that_are_left(begun, payer, said, owner_manager):
    service = priced_service("95.00", name="Full body")
    told = {"name": "Ten of last year", "service": service, "ends_on": None}
    sold = actions.bring_package(payer=payer, left=2, value=Decimal(150), **told, **said)
    assert balance(Account.PACKAGE_LIABILITY) == -150
    assert proposals_for(DAY) == []
    for _ in range(3):
        finished_visit(owned_horse(payer), service)
    confirm_charges(day=DAY, **said)
    assert Use.objects.filter(sold=sold).count() == 2
    assert (balance(Account.PACKAGE_LIABILITY), balance(Account.INCOME_SESSIONS)) == (0, -150)
    assert not MoneyRules.objects.exists()
    assert faults() == []
    for left in (0, 1001):
        with pytest.raises(Refused, match="between 1 and 1000"):
            actions.bring_package(payer=payer, left=left, value=Decimal(1), **told, **said)
    ended = {**told, "ends_on": DAY - timedelta(days=1)}
    with pytest.raises(Refused, match="over before the first day"):
        actions.bring_package(payer=payer, left=1, value=Decimal(1), **ended, **said)


def test_the_pages_from_the_first_day_to_what_is_brought(as_owner_manager, payer, time_machine):
    time_machine.move_to(AT)
    page = reverse("billing:starting")
    wrong = as_owner_manager.post(page, {"day": "2026-03-03", "invoice": "0"})
    assert wrong.status_code == 422
    assert b"This day is still to come." in wrong.content
    assert as_owner_manager.post(page, {"day": "2026-03-02", "bank": "-20.00", "invoice": "12"}).status_code == 302
    service = priced_service()
    whose = {"person": payer.pk}
    sent = {
        "invoice": {"name": "77", "issued_on": "2026-02-01", "due_on": "2026-02-15", "open_amount": "12.00"},
        "credit": {"amount": "5.00"},
        "deposit": {"amount": "200.00", "what": "Machine one"},
        "package": {"name": "Ten", "service": service.pk, "left": "3", "value": "90.00"},
    }
    for kind, fields in sent.items():
        form = reverse("billing:bring", args=[kind])
        assert b"Whose is missing." in as_owner_manager.post(form, fields).content
        assert as_owner_manager.post(form, {**fields, **whose}).status_code == 302
    shown = as_owner_manager.get(page).content.decode()
    for words in ("20.00", "77", "$12.00", "$5.00", "Machine one", "3 × "):
        assert words in shown, words
    invoice = Invoice.objects.get()
    told = as_owner_manager.get(invoice.get_absolute_url()).content.decode()
    assert "Brought along" in told
    assert "by a credit note" not in told
    assert as_owner_manager.get(reverse("billing:invoices")).status_code == 200
    assert as_owner_manager.get(reverse("billing:bring", args=["horse"])).status_code == 404


def test_only_who_changes_money(as_assistant, client):
    for page in (reverse("billing:starting"), reverse("billing:bring", args=["credit"])):
        assert client.get(page).status_code == 302
        assert as_assistant.get(page).status_code == 403


def test_what_was_driven_before_counts_toward_the_limit_of_the_year(
    as_bookkeeper, begun, said, owner_manager, business
):
    MileageRate.objects.create(
        since=date(2026, 1, 1), amount=Decimal("0.45"), limit=10_000, beyond=Decimal("0.25"), source="Invented"
    )
    Trip.objects.create(
        day=DAY, driver=owner_manager, places="Home", purpose="Work", metres=1_609_344, written_at=AT
    )  # 1,000 miles
    assert year_of_miles(*YEAR, business).amount == 450
    page = reverse("billing:bring-driving")
    assert "Miles" in as_bookkeeper.get(page).content.decode()
    bad = as_bookkeeper.post(page, {"driver": owner_manager.pk, "distance": "-1"})
    assert bad.context["form"].errors["distance"]
    as_bookkeeper.post(page, {"driver": owner_manager.pk, "distance": "9500"})
    assert year_of_miles(*YEAR, business).amount == 350
    actions.bring_miles(driver=owner_manager, distance=Decimal(0), **said)
    assert year_of_miles(*YEAR, business).amount == 450
    assert "Driven this tax year" in as_bookkeeper.get(reverse("billing:starting")).content.decode()
