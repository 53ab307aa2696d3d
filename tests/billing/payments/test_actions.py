import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from backoffice.refusal import Refused
from billing.invoices.queries import invoices_shown, open_invoices, shown_state
from billing.journal.models import Account, Posting
from billing.numbers.models import NumberSeries
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account, money_overview, oldest_first, payers_shown
from tests.factories.billing import AT, DAY, draft_for, finished_visit, issued_invoice, owned_horse, priced_service
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def payer(business):
    return PersonFactory()


@pytest.fixture
def invoice(payer, owner_manager):
    return issued_invoice(payer, owner_manager, "95.00")


def take(payer, by, amount: str, allocations=None, **changes) -> Payment:
    terms = {"method": Payment.Method.CASH, "received_on": DAY, "at": AT, **changes}
    return take_payment(payer=payer, amount=Decimal(amount), allocations=allocations or {}, by=by, **terms)


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def test_a_full_payment_settles_the_invoice_with_receipt_and_postings(payer, invoice, owner_manager):
    payment = take(payer, owner_manager, "95.00", {invoice: Decimal("95.00")})
    assert shown_state(invoice, DAY) == "paid"
    assert payment.number == 1
    assert payment.receipt.kind == Document.Kind.RECEIPT
    assert balance(Account.CASH) == Decimal("95")
    assert balance(Account.RECEIVABLE) == 0
    assert Entry.objects.get(action="payment taken").changes["credit"] == "0.00"


@pytest.mark.parametrize(
    ("method", "account"),
    [
        ("cash", Account.CASH),
        ("check", Account.CHECKS),
        ("transfer", Account.BANK),
        ("card", Account.CARD_CLEARING),
    ],
)
def test_each_way_of_paying_has_its_account(payer, invoice, owner_manager, method, account):
    take(payer, owner_manager, "95", {invoice: Decimal("95")}, method=Payment.Method(method))
    assert balance(account) == Decimal("95")


def test_one_payment_settles_several_invoices_in_part_and_the_rest_is_credit(payer, invoice, owner_manager):
    other = issued_invoice(payer, owner_manager, "45.00")
    payment = take(payer, owner_manager, "100", {invoice: Decimal("50"), other: Decimal("45")})
    assert (shown_state(invoice, DAY), shown_state(other, DAY)) == ("part-paid", "paid")
    assert credit_on_account(payer) == Decimal("5")
    assert balance(Account.CREDIT) == Decimal("-5")
    assert payment.allocations.count() == 2


def test_money_without_an_invoice_is_all_credit(payer, owner_manager):
    take(payer, owner_manager, "20")
    assert credit_on_account(payer) == Decimal("20")
    assert balance(Account.RECEIVABLE) == 0


def test_states_follow_payments_and_the_day(payer, invoice, owner_manager):
    late = invoice.due_on + timedelta(days=1)
    assert shown_state(invoice, invoice.due_on) == "due"
    assert shown_state(invoice, late) == "overdue"
    take(payer, owner_manager, "50", {invoice: Decimal("50")})
    assert shown_state(invoice, DAY) == "part-paid"
    assert shown_state(invoice, late) == "overdue"
    take(payer, owner_manager, "45", {invoice: Decimal("45")})
    assert shown_state(invoice, late) == "paid"


def test_parts_that_no_float_holds_exactly_still_add_up_to_paid(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager, "0.80")
    for part in ("0.10", "0.70"):
        take(payer, owner_manager, part, {invoice: Decimal(part)})
    assert shown_state(invoice, DAY) == "paid"
    assert not open_invoices(payer, DAY).exists()
    assert invoices_shown(DAY).get(pk=invoice.pk).open == 0


@pytest.mark.parametrize(
    ("amount", "sentence"),
    [
        ("0", "A payment is more than nothing."),
        ("-5", "A payment is more than nothing."),
        ("1000000.01", r"at most \$1,000,000.00"),
        ("10.001", "has 2 decimals"),
    ],
)
def test_an_odd_amount_is_refused(payer, owner_manager, amount, sentence):
    with pytest.raises(Refused, match=sentence):
        take(payer, owner_manager, amount)
    assert not NumberSeries.objects.filter(name="payment").exists()


@pytest.mark.parametrize(
    ("day", "sentence"),
    [(DAY + timedelta(days=1), "not received ahead of today"), (date(1926, 3, 2), "before 2000")],
)
def test_an_odd_day_is_refused(payer, owner_manager, day, sentence):
    with pytest.raises(Refused, match=sentence):
        take(payer, owner_manager, "10", received_on=day)


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        (["60"], "$10.00 more than the payment of $50.00"),
        (["95.01"], "has $95.00 open, less than $95.01"),
        (["0"], "is more than nothing"),
        (["-1"], "is more than nothing"),
        (["10.001"], "has 2 decimals"),
    ],
)
def test_an_odd_part_is_refused(payer, invoice, owner_manager, parts, sentence):
    with pytest.raises(Refused, match=re.escape(sentence)):
        take(payer, owner_manager, "50", {invoice: Decimal(parts[0])})
    assert not Payment.objects.exists()


def test_an_invoice_of_somebody_else_or_a_draft_takes_nothing(payer, owner_manager):
    foreign = issued_invoice(PersonFactory(), owner_manager)
    draft = draft_for(payer, owner_manager)
    for wrong in (foreign, draft):
        with pytest.raises(Refused, match="not an open invoice of"):
            take(payer, owner_manager, "10", {wrong: Decimal("10")})


def test_a_paid_invoice_takes_no_more(payer, invoice, owner_manager):
    take(payer, owner_manager, "95", {invoice: Decimal("95")})
    with pytest.raises(Refused, match="not an open invoice of"):
        take(payer, owner_manager, "1", {invoice: Decimal("1")})


def test_the_oldest_debt_is_settled_first(payer, invoice, owner_manager):
    other = issued_invoice(payer, owner_manager, "45.00")
    owed = list(open_invoices(payer, DAY))
    assert oldest_first(Decimal("100"), owed) == {invoice: Decimal("95"), other: Decimal("5")}
    assert oldest_first(Decimal("10"), owed) == {invoice: Decimal("10")}
    assert oldest_first(Decimal("500"), owed) == {invoice: Decimal("95"), other: Decimal("45")}


def test_balances_of_payers_are_not_counted_twice(payer, invoice, owner_manager):
    issued_invoice(payer, owner_manager, "45.00")
    take(payer, owner_manager, "60", {invoice: Decimal("50")})
    take(payer, owner_manager, "7")
    (shown,) = payers_shown()
    assert (shown.owes, shown.credit) == (Decimal("90"), Decimal("17"))


def test_the_overview_counts_what_stands(payer, invoice, owner_manager):
    take(payer, owner_manager, "60", {invoice: Decimal("50")})
    draft_for(payer, owner_manager, "45.00")
    finished_visit(owned_horse(payer), priced_service("80.00"), day=date(2026, 2, 27))
    overview = money_overview(invoice.due_on + timedelta(days=1))
    assert (overview.uncharged, overview.uncharged_total) == (1, Decimal("80"))
    assert overview.oldest_uncharged == date(2026, 2, 27)
    assert (overview.drafts, overview.drafts_total) == (1, Decimal("45"))
    assert (overview.overdue, overview.overdue_total) == (1, Decimal("45"))
    assert overview.credit_total == Decimal("10")
    assert money_overview(DAY).received_total == Decimal("60")
    assert overview.received == 0


def test_a_payment_dated_earlier_than_today_is_fine(payer, owner_manager):
    later = datetime(2026, 3, 9, 20, tzinfo=UTC)
    assert take(payer, owner_manager, "10", at=later).received_on == DAY
