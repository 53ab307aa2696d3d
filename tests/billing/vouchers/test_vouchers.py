"""A gift voucher from its sale to its last use: money that is owed to whoever shows the code."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from backoffice.refusal import Refused
from billing.books.queries import RECEIVED, year_report
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.crediting import credit_invoice
from billing.invoices.queries import lines_of
from billing.journal.models import Account, Posting
from billing.payments.actions import take_payment
from billing.payments.credit import give_credit_back
from billing.payments.models import Payment
from billing.payments.security import take_security
from billing.vouchers.actions import sell_voucher
from billing.vouchers.models import CODE_LENGTH, SIGNS, Voucher
from billing.vouchers.queries import voucher_of_code, vouchers_listed
from billing.vouchers.verification import faults_of_vouchers
from tests.factories.billing import AT, DAY, TaxRateFactory, finished_visit, issued_invoice, owned_horse, priced_service
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business", "private_folder")]
YEAR = (date(2026, 1, 1), date(2026, 12, 31))


@pytest.fixture
def giver():
    return PersonFactory(name="Ottoline Marsh")


@pytest.fixture
def owner():
    return PersonFactory(name="Desmond Quarrie")


def sold(payer, by, amount="100.00", **terms) -> Voucher:
    said = {"for_whom": "Pim", "ends_on": None, **terms}
    return sell_voucher(payer=payer, amount=Decimal(amount), at=AT, by=by, **said)


def in_force(payer, by, amount="100.00", **terms) -> Voucher:
    """Sold, charged and invoiced."""
    voucher = sold(payer, by, amount, **terms)
    confirm_charges(day=DAY, at=AT, by=by)
    (draft,) = draft_invoices(at=AT, by=by, payer=payer)
    issue_invoice(invoice=draft, on=DAY, at=AT, by=by)
    voucher.refresh_from_db()
    return voucher


def pay(payer, by, amount, allocations=None, **more) -> Payment:
    said = {"method": Payment.Method.VOUCHER, "received_on": DAY, "at": AT, "by": by, **more}
    return take_payment(payer=payer, amount=Decimal(amount), allocations=allocations or {}, **said)


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def test_it_is_owed_from_its_invoice_on_and_pays_bit_by_bit(giver, owner, owner_manager):
    TaxRateFactory(percent=Decimal(5))
    voucher = in_force(giver, owner_manager)
    (paper,) = giver.invoices.all()
    assert (paper.tax, paper.total) == (0, 100)
    assert paper.frozen["tax_groups"][0]["category"] == "O"
    assert (voucher.left, balance(Account.VOUCHERS)) == (100, -100)
    invoice = issued_invoice(owner, owner_manager)
    assert invoice.total == Decimal("99.75")
    pay(owner, owner_manager, "60.00", {invoice: Decimal(60)}, voucher=voucher)
    voucher.refresh_from_db()
    assert (voucher.left, balance(Account.VOUCHERS)) == (40, -40)
    assert balance(Account.RECEIVABLE) == Decimal("139.75")
    assert list(faults_of_vouchers()) == []
    Voucher.objects.update(earned=61)
    assert list(faults_of_vouchers()) == ["gift vouchers: the books still owe 40.000, 39.000 is left of them."]


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({"amount": "0"}, "A voucher is more than nothing, up to $100,000.00, with 2 decimals."),
        ({"amount": "-0.01"}, "A voucher is more than nothing"),
        ({"amount": "0.001"}, "with 2 decimals"),
        ({"amount": "10000000"}, "up to $100,000.00"),
        ({"ends_on": DAY - timedelta(days=1)}, "Its last day is over already."),
    ],
)
def test_what_is_not_sold(giver, owner_manager, terms, sentence):
    with pytest.raises(Refused, match=re.escape(sentence)):
        sold(giver, owner_manager, **terms)
    assert not Voucher.objects.exists()


def test_what_it_does_not_pay(giver, owner, owner_manager):
    invoice = issued_invoice(owner, owner_manager)
    fresh = sold(giver, owner_manager)
    one = {invoice: Decimal(50)}
    with pytest.raises(Refused, match="is not good yet: issue its invoice first"):
        pay(owner, owner_manager, "50.00", one, voucher=fresh)
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
    voucher = Voucher.objects.get()
    for amount, allocations, more, sentence in (
        ("95.00", {}, {"voucher": voucher}, "pays what is open; the rest stays on it"),
        ("50.00", one, {"voucher": voucher, "tip": Decimal(0), "method": Payment.Method.CASH}, "Name the gift voucher"),
        ("50.00", one, {}, "Name the gift voucher by its code"),
    ):
        with pytest.raises(Refused, match=sentence):
            pay(owner, owner_manager, amount, allocations, **more)
    Voucher.objects.update(ends_on=DAY)
    late = {"received_on": DAY + timedelta(days=1), "at": AT + timedelta(days=1)}
    with pytest.raises(Refused, match="was good until 2 Mar 2026"):
        pay(owner, owner_manager, "50.00", one, voucher=voucher, **late)
    pay(owner, owner_manager, "50.00", one, voucher=voucher)
    other = issued_invoice(owner, owner_manager)
    with pytest.raises(Refused, match=r"has \$50.00 left, less than \$95.00"):
        pay(owner, owner_manager, "95.00", {other: Decimal(95)}, voucher=voucher)
    cash = {"method": Payment.Method.VOUCHER, "on": DAY, "at": AT, "by": owner_manager}
    with pytest.raises(Refused, match="is money, not a gift voucher"):
        give_credit_back(payer=owner, amount=Decimal(1), **cash)
    with pytest.raises(Refused, match="is money, not a gift voucher"):
        take_security(person=owner, amount=Decimal(1), what="machine", **cash)


def test_only_what_is_left_of_it_is_credited(giver, owner, owner_manager):
    voucher = in_force(giver, owner_manager)
    invoice = issued_invoice(owner, owner_manager)
    pay(owner, owner_manager, "60.00", {invoice: Decimal(60)}, voucher=voucher)
    (paper,) = giver.invoices.all()
    (line,) = lines_of(paper)
    told = {"invoice": paper, "reason": "No horse any more.", "on": DAY, "at": AT, "by": owner_manager}
    with pytest.raises(Refused, match=r"has \$40.00 left: that is taken back, or nothing"):
        credit_invoice(amounts={line: Decimal(100)}, **told)
    credit_invoice(amounts={line: Decimal(40)}, **told)
    assert (Voucher.objects.get().left, balance(Account.VOUCHERS)) == (0, 0)
    assert list(faults_of_vouchers()) == []


def test_as_received_it_counts_when_it_was_paid_for_and_not_again_when_used(giver, owner, owner_manager):
    """105.00 of work with 5.00 of tax, all of it paid by the voucher: 100.00 of income, 5.00 of tax."""
    TaxRateFactory(percent=Decimal(5))
    voucher = in_force(giver, owner_manager, "105.00")
    (paper,) = giver.invoices.all()
    pay(giver, owner_manager, "105.00", {paper: Decimal(105)}, method=Payment.Method.CASH)
    before = year_report(*YEAR, RECEIVED, "USD")
    assert [(line.words, line.amount) for line in before.income] == [("Gift vouchers", Decimal(105))]
    finished_visit(owned_horse(owner), priced_service("100.00"))
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    invoice = issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
    pay(owner, owner_manager, "105.00", {invoice: Decimal(105)}, voucher=voucher)
    after = year_report(*YEAR, RECEIVED, "USD")
    assert [(line.words, line.amount) for line in after.income] == [("Sessions", Decimal(100))]
    assert (after.income_total, after.tax) == (100, 5)


def test_a_code_is_found_as_it_is_typed(giver, owner_manager):
    voucher = sold(giver, owner_manager)
    assert len(voucher.code) == CODE_LENGTH
    assert set(voucher.code) <= set(SIGNS)
    for typed in (
        voucher.code,
        voucher.shown_code,
        voucher.shown_code.lower(),
        f" {voucher.code[:3]} {voucher.code[3:]}",
    ):
        assert voucher_of_code(typed) == voucher
    for typed in ("", "x", voucher.code[:-1], f"{voucher.code}2"):
        assert voucher_of_code(typed) is None


def test_the_state_of_each(giver, owner, owner_manager):
    voucher = sold(giver, owner_manager, ends_on=DAY)

    def state(on: date = DAY) -> str:
        return vouchers_listed(on).get(pk=voucher.pk).state

    assert state() == "not in force"
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
    assert (state(), state(DAY + timedelta(days=1))) == ("open", "lapsed")
    Voucher.objects.update(earned=100)
    assert state() == "used up"


def test_from_the_account_to_the_payment(as_owner_manager, giver, owner, owner_manager, time_machine):
    time_machine.move_to(AT)
    account, page = reverse("billing:payer", args=[giver.pk]), reverse("billing:voucher-sell", args=[giver.pk])
    assert page in as_owner_manager.get(account).content.decode()
    wrong = as_owner_manager.post(page, {"amount": "", "ends_on": "2026-03-01"})
    assert wrong.status_code == 422
    for words in (b"Amount is missing.", b"This day is over already."):
        assert words in wrong.content
    listed = as_owner_manager.post(page, {"amount": "80.00", "for_whom": "Pim"}, follow=True).content.decode()
    voucher = Voucher.objects.get()
    for words in (voucher.shown_code, "Pim", "not in force"):
        assert words in listed
    invoice = issued_invoice(owner, owner_manager)
    take = reverse("billing:payment-new", args=[owner.pk])
    assert "Code of the gift voucher" not in as_owner_manager.get(take).content.decode()
    Voucher.objects.all().delete()
    voucher = in_force(giver, owner_manager, "80.00")
    assert "Code of the gift voucher" in as_owner_manager.get(take).content.decode()
    said = {"amount": "80.00", "method": "voucher", "received_on": "2026-03-02"}
    for code, amount, sentence in (
        ("", "80.00", "Code of the gift voucher is missing."),
        ("ABCD-EFGH", "80.00", "No gift voucher has this code."),
        (voucher.shown_code, "81.00", "has $80.00 left."),
    ):
        refused = as_owner_manager.post(take, {**said, "code": code, "amount": amount})
        assert (refused.status_code, sentence in refused.content.decode()) == (422, True)
    assert as_owner_manager.post(take, {**said, "code": voucher.shown_code.lower()}).status_code == 302
    voucher.refresh_from_db()
    assert (voucher.left, Payment.objects.get().voucher) == (0, voucher)
    assert invoice.payer == owner


def test_no_rate_is_recorded_for_vouchers(as_owner_manager):
    said = {"category": "Gift  voucher", "percent": "5", "since": "2026-01-01"}
    page = as_owner_manager.post(reverse("billing:tax-rate-new"), said)
    assert "A gift voucher holds no tax" in page.content.decode()


@pytest.mark.parametrize("name", ["vouchers", "voucher-sell"])
def test_money_is_for_who_may_see_it(as_assistant, client, giver, name):
    page = reverse(f"billing:{name}", args=[giver.pk] if name == "voucher-sell" else [])
    assert client.get(page).status_code == 302
    assert as_assistant.get(page).status_code == 403


def test_the_list_takes_the_same_queries_however_long_it_is(
    as_owner_manager, giver, owner_manager, django_assert_num_queries
):
    sold(giver, owner_manager)
    as_owner_manager.get(reverse("billing:vouchers"))
    with django_assert_num_queries(5):
        as_owner_manager.get(reverse("billing:vouchers"))
    for _ in range(9):
        sold(giver, owner_manager)
    with django_assert_num_queries(5):
        as_owner_manager.get(reverse("billing:vouchers"))
