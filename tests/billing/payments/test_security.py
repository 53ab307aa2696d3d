"""Security deposits: held, not earned; given back, or kept with a reason."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from backoffice.refusal import Refused
from billing.books.queries import EARNED, year_report
from billing.journal.models import Account
from billing.payments.models import Payment, SecurityDeposit
from billing.payments.queries import balance_of, credit_on_account
from billing.payments.security import settle_security, take_security
from billing.payments.verification import faults_of_balances, faults_of_held
from billing.records.about_person import in_the_way
from tests.factories.billing import AT, DAY
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def person(business):
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def take(person, owner_manager):
    def take(amount: str = "500.00", **fields) -> SecurityDeposit:
        given = {"method": Payment.Method.CASH, "what": "Machine 1", "on": DAY, "at": AT, "by": owner_manager, **fields}
        return take_security(person=person, amount=Decimal(amount), **given)

    return take


@pytest.fixture
def settle(owner_manager):
    def settle(deposit: SecurityDeposit, kept: str = "0", **fields) -> SecurityDeposit:
        given = {"kept_for": "", "reason": "", "method": Payment.Method.CASH, "on": DAY, "at": AT, **fields}
        return settle_security(deposit=deposit, kept=Decimal(kept), by=owner_manager, **given)

    return settle


def balances(*accounts: Account) -> list[Decimal]:
    return [balance_of(account) for account in accounts]


def test_it_is_held_and_is_neither_income_nor_credit(take, person):
    deposit = take()
    assert (deposit.number, deposit.receipt.kind) == (1, "receipt")
    assert balances(Account.CASH, Account.DEPOSITS_HELD) == [500, -500]
    assert credit_on_account(person) == 0
    assert year_report(DAY, DAY, EARNED, "USD").income == []
    assert "Settle it first." in " ".join(in_the_way(person, DAY))
    assert [*faults_of_held(), *faults_of_balances()] == []


@pytest.mark.parametrize(
    ("kept", "kept_for", "income"),
    [("0", "", Account.INCOME_FEES), ("80.00", "damage", Account.INCOME_FEES), ("60.00", "days", Account.INCOME_HIRE)],
)
def test_it_goes_back_all_but_what_is_kept(take, settle, kept, kept_for, income):
    settled = settle(take(), kept, kept_for=kept_for, reason="A torn cable." if kept_for else "")
    assert settled.given_back == 500 - Decimal(kept)
    assert balances(Account.DEPOSITS_HELD, Account.CASH, income) == [0, Decimal(kept), -Decimal(kept)]
    assert list(faults_of_held()) == []
    with pytest.raises(Refused, match="already"):
        settle(settled)


@pytest.mark.parametrize(
    ("amount", "fields", "sentence"),
    [
        ("0", {}, "more than nothing"),
        ("0.001", {}, "2 decimals"),
        ("5", {"what": " "}, "what it is held for"),
        ("5", {"method": Payment.Method.CHECK}, "until the check is good"),
        ("5", {"on": DAY + timedelta(days=1)}, "ahead of today"),
    ],
)
def test_what_cannot_be_held_is_refused(take, amount, fields, sentence):
    with pytest.raises(Refused, match=sentence):
        take(amount, **fields)
    assert not SecurityDeposit.objects.exists()


@pytest.mark.parametrize(
    ("kept", "fields", "sentence"),
    [
        ("500.01", {"kept_for": "damage", "reason": "x"}, "Between nothing and $500.00"),
        ("-1", {"kept_for": "damage", "reason": "x"}, "Between nothing"),
        ("5", {"kept_for": "damage"}, "needs a reason"),
        ("5", {"reason": "x"}, "needs a reason"),
        ("0", {"on": DAY - timedelta(days=1)}, "after it was taken"),
    ],
)
def test_what_cannot_be_kept_is_refused(take, settle, kept, fields, sentence):
    deposit = take()
    with pytest.raises(Refused, match=re.escape(sentence)):
        settle(deposit, kept, **fields)
    assert balance_of(Account.DEPOSITS_HELD) == -500


def test_the_pages_take_and_settle_it(person, as_owner_manager, as_assistant):
    sent = {"amount": "500.00", "what": "Machine 1", "method": "cash", "on": DAY.isoformat()}
    assert as_owner_manager.post(reverse("billing:deposit-take", args=[person.pk]), sent).status_code == 302
    assert "Machine 1" in as_owner_manager.get(reverse("billing:deposits")).content.decode()
    deposit = SecurityDeposit.objects.get()
    where = reverse("billing:deposit-settle", args=[deposit.pk])
    wrong = as_owner_manager.post(where, {"kept": "600", "method": "cash", "on": DAY.isoformat()})
    assert "more than is held" in wrong.content.decode()
    missing = as_owner_manager.post(where, {"kept": "60", "method": "cash", "on": DAY.isoformat()})
    assert "needs a reason" in missing.content.decode()
    assert as_owner_manager.post(where, {"method": "cash", "on": DAY.isoformat()}).status_code == 302
    assert "$500.00 back" in as_owner_manager.get(reverse("billing:deposits")).content.decode()
    assert as_assistant.get(reverse("billing:deposits")).status_code == 403


def test_verify_names_what_does_not_agree(take):
    take()
    SecurityDeposit.objects.update(amount=400)
    assert any("deposits held are 500.000 in the books, 400.000" in fault for fault in faults_of_held())
    SecurityDeposit.objects.update(number=3)
    assert any("security number 1 is missing" in fault for fault in faults_of_held())
