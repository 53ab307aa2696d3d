"""Checks and cash to the bank, a check that comes back, card money, tips, and what is given up."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.models import Document
from backoffice.refusal import Refused
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import invoices_shown, lines_of
from billing.invoices.writing_off import take_up_again, write_off
from billing.journal.models import Account
from billing.payments.actions import take_payment
from billing.payments.banking import bank_takings, note_card_payout, note_returned_check
from billing.payments.credit import give_credit_back, use_credit
from billing.payments.models import DepositSlip, Payment
from billing.payments.queries import balance_of, checks_in_hand, credit_on_account, payers_shown
from billing.payments.verification import faults_of_allocations, faults_of_balances, faults_of_held
from tests.factories.billing import AT, DAY, TaxRateFactory, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def pay(payer, owner_manager):
    def pay(amount: str, method: Payment.Method = Payment.Method.CHECK, *invoices: Invoice, tip: str = "0") -> Payment:
        return take_payment(
            payer=payer,
            amount=Decimal(amount),
            method=method,
            received_on=DAY,
            allocations={invoice: invoice.total for invoice in invoices},
            tip=Decimal(tip),
            at=AT,
            by=owner_manager,
        )

    return pay


def is_clean() -> bool:
    checks = (faults_of_allocations, faults_of_balances, faults_of_held)
    return not [fault for check in checks for fault in check()]


def shown(invoice: Invoice) -> tuple[str, Decimal]:
    found = invoices_shown(DAY).get(pk=invoice.pk)
    return found.shown, found.open


class TestSlips:
    def test_checks_and_cash_go_to_the_bank_on_a_slip_with_their_total(self, pay, owner_manager):
        first, second = pay("95.00"), pay("40.00")
        pay("60.00", Payment.Method.CASH)
        slip = bank_takings(checks=[first], cash=Decimal("50.00"), on=DAY, at=AT, by=owner_manager)
        assert (slip.number, slip.total, slip.checks_total) == (1, Decimal("145.00"), Decimal("95.00"))
        assert slip.document.kind == Document.Kind.DEPOSIT_SLIP
        assert list(checks_in_hand()) == [second]
        assert [balance_of(account) for account in (Account.BANK, Account.CHECKS, Account.CASH)] == [145, 40, 10]
        assert [entry.action for entry in trail_of(slip)] == ["takings banked"]
        assert is_clean()

    def test_a_check_is_banked_once(self, pay, owner_manager):
        check = pay("95.00")
        bank_takings(checks=[check], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)
        with pytest.raises(Refused, match="no check that is still in hand"):
            bank_takings(checks=[check], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)
        assert DepositSlip.objects.count() == 1

    @pytest.mark.parametrize(
        ("cash", "on", "sentence"),
        [
            ("0", DAY, "holds a check, or cash"),
            ("60.01", DAY, "$60.00 of cash in hand"),
            ("-0.01", DAY, "0 or more"),
            ("0.001", DAY, "2 decimals"),
            ("1.00", DAY + timedelta(days=1), "ahead of today"),
        ],
    )
    def test_more_than_there_is_makes_no_slip(self, pay, owner_manager, cash, on, sentence):
        pay("60.00", Payment.Method.CASH)
        with pytest.raises(Refused, match=re.escape(sentence)):
            bank_takings(checks=[], cash=Decimal(cash), on=on, at=AT, by=owner_manager)
        assert not DepositSlip.objects.exists()

    def test_cash_money_is_no_check(self, pay, owner_manager):
        with pytest.raises(Refused, match="no check"):
            bank_takings(checks=[pay("5", Payment.Method.CASH)], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)

    def test_the_page_offers_every_check_and_makes_the_slip(self, pay, as_owner_manager):
        check = pay("95.00")
        page = as_owner_manager.get(reverse("billing:bank-takings"))
        assert "Desmond Quarrie, $95.00" in page.content.decode()
        answer = as_owner_manager.post(
            reverse("billing:bank-takings"), {"checks": [check.pk], "cash": "", "on": DAY.isoformat()}
        )
        assert answer.status_code == 302
        assert DepositSlip.objects.get().total == 95

    def test_the_page_says_what_is_wrong_at_its_field(self, pay, as_owner_manager):
        pay("95.00")
        answer = as_owner_manager.post(reverse("billing:bank-takings"), {"cash": "10", "on": DAY.isoformat()})
        assert answer.status_code == 422
        assert "more than is in hand by the books" in answer.content.decode()

    @pytest.mark.parametrize("page", ["bank-takings", "card-payout"])
    def test_an_assistant_has_no_money_to_bank(self, as_assistant, page):
        assert as_assistant.get(reverse(f"billing:{page}")).status_code == 403


class TestReturned:
    @pytest.mark.parametrize("banked", [False, True])
    def test_what_it_had_settled_is_open_again(self, payer, pay, owner_manager, banked):
        invoice = issued_invoice(payer, owner_manager)
        check = pay("105.00", Payment.Method.CHECK, invoice, tip="4.00")
        if banked:
            bank_takings(checks=[check], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)
        note_returned_check(payment=check, reason="no funds", on=DAY, at=AT, by=owner_manager)
        assert shown(invoice) == ("due", Decimal("95.00"))
        assert credit_on_account(payer) == 0
        held = (Account.BANK, Account.CHECKS, Account.CREDIT, Account.TIPS)
        assert [balance_of(account) for account in held] == [0, 0, 0, 0]
        assert balance_of(Account.RECEIVABLE) == 95
        row = payers_shown().get(pk=payer.pk)
        assert (row.owes, row.credit) == (95, 0)
        assert is_clean()
        with pytest.raises(Refused, match="not come back yet"):
            note_returned_check(payment=check, reason="", on=DAY, at=AT, by=owner_manager)

    def test_a_check_whose_credit_was_used_opens_that_invoice_too(self, payer, pay, owner_manager):
        check = pay("95.00")
        invoice = issued_invoice(payer, owner_manager)
        use_credit(payer=payer, on=DAY, at=AT, by=owner_manager)
        assert shown(invoice)[0] == "paid"
        note_returned_check(payment=check, reason="", on=DAY, at=AT, by=owner_manager)
        assert shown(invoice) == ("due", Decimal("95.00"))
        assert is_clean()

    def test_one_that_was_given_back_in_part_is_refused(self, payer, pay, owner_manager):
        check = pay("95.00")
        give_credit_back(payer=payer, amount=Decimal(10), method=Payment.Method.CHECK, on=DAY, at=AT, by=owner_manager)
        assert balance_of(Account.BANK) == -10
        with pytest.raises(Refused, match="given back"):
            note_returned_check(payment=check, reason="", on=DAY, at=AT, by=owner_manager)
        assert is_clean()

    def test_only_checks_come_back(self, pay, owner_manager):
        with pytest.raises(Refused, match="Only a check"):
            note_returned_check(payment=pay("5", Payment.Method.CASH), reason="", on=DAY, at=AT, by=owner_manager)

    def test_the_pages_lead_there_and_say_so(self, pay, as_owner_manager):
        check = pay("95.00")
        assert (
            reverse("billing:check-returned", args=[check.pk])
            in as_owner_manager.get(check.get_absolute_url()).content.decode()
        )
        as_owner_manager.post(
            reverse("billing:check-returned", args=[check.pk]), {"on": DAY.isoformat(), "reason": "no funds"}
        )
        assert "came back unpaid" in as_owner_manager.get(check.get_absolute_url()).content.decode()


class TestCards:
    def test_a_payout_leaves_the_clearing_account_by_what_was_paid_and_kept(self, pay, owner_manager):
        pay("100.00", Payment.Method.CARD)
        note_card_payout(amount=Decimal("97.10"), fee=Decimal("2.90"), on=DAY, at=AT, by=owner_manager)
        accounts = (Account.CARD_CLEARING, Account.CARD_FEES, Account.BANK)
        assert [balance_of(account) for account in accounts] == [0, Decimal("2.90"), Decimal("97.10")]

    @pytest.mark.parametrize(("amount", "fee", "sentence"), [("0", "0", "more than nothing"), ("99", "1.01", "100.00")])
    def test_not_more_than_the_cards_brought(self, pay, owner_manager, amount, fee, sentence):
        pay("100.00", Payment.Method.CARD)
        with pytest.raises(Refused, match=sentence):
            note_card_payout(amount=Decimal(amount), fee=Decimal(fee), on=DAY, at=AT, by=owner_manager)

    def test_the_page_writes_it_down(self, pay, as_owner_manager):
        pay("100.00", Payment.Method.CARD)
        answer = as_owner_manager.post(
            reverse("billing:card-payout"), {"amount": "97.10", "fee": "2.90", "on": DAY.isoformat(), "reference": "w9"}
        )
        assert answer.status_code == 302
        assert "w9" in as_owner_manager.get(reverse("billing:card-payout")).content.decode()


class TestTips:
    def test_a_tip_is_no_credit_and_settles_nothing(self, payer, pay, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        pay("100.00", Payment.Method.CASH, invoice, tip="5.00")
        assert shown(invoice)[0] == "paid"
        assert (balance_of(Account.TIPS), credit_on_account(payer)) == (-5, 0)
        assert is_clean()

    def test_the_invoices_and_the_tip_take_no_more_than_came_in(self, payer, pay, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        with pytest.raises(Refused, match=r"and the tip take \$0.01 more"):
            pay("100.00", Payment.Method.CASH, invoice, tip="5.01")

    def test_over_payment_is_a_tip_where_the_page_says_so(self, payer, owner_manager, as_owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        sent = {"amount": "100.00", "method": "cash", "received_on": DAY.isoformat(), "tip": "5.00"}
        assert as_owner_manager.post(reverse("billing:payment-new", args=[payer.pk]), sent).status_code == 302
        assert (shown(invoice)[0], credit_on_account(payer)) == ("paid", 0)
        wrong = as_owner_manager.post(reverse("billing:payment-new", args=[payer.pk]), sent | {"tip": "100.01"})
        assert "tip is more than came in" in wrong.content.decode()


class TestWritingOff:
    def test_what_is_open_becomes_a_bad_debt_and_can_be_asked_for_again(self, payer, pay, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        given_up = write_off(invoice=invoice, reason="Moved away.", on=DAY, at=AT, by=owner_manager)
        assert shown(invoice) == ("written off", 0)
        assert (balance_of(Account.BAD_DEBTS), balance_of(Account.RECEIVABLE)) == (95, 0)
        assert payers_shown().get(pk=payer.pk).owes == 0
        assert is_clean()
        take_up_again(given_up=given_up, on=DAY, at=AT, by=owner_manager)
        assert shown(invoice) == ("due", 95)
        assert balance_of(Account.BAD_DEBTS) == 0
        pay("95.00", Payment.Method.CASH, invoice)
        assert is_clean()
        with pytest.raises(Refused, match="already"):
            take_up_again(given_up=given_up, on=DAY, at=AT, by=owner_manager)

    @pytest.mark.parametrize(("relieves", "tax", "bad"), [(True, "2.61", "52.24"), (False, "0", "54.85")])
    def test_its_tax_comes_back_only_where_relief_is_allowed(self, payer, owner_manager, relieves, tax, bad):
        """Of 99.75 with 4.75 of tax, 54.85 is open: 54.85 × 4.75 / 99.75 = 2.61 is tax."""
        TaxRateFactory(percent=Decimal("5"))
        invoice = issued_invoice(payer, owner_manager)
        take_payment(
            payer=payer,
            amount=invoice.total - Decimal("54.85"),
            method=Payment.Method.CASH,
            received_on=DAY,
            allocations={invoice: invoice.total - Decimal("54.85")},
            at=AT,
            by=owner_manager,
        )
        given_up = write_off(invoice=invoice, reason="Gone.", on=DAY, at=AT, by=owner_manager, relieves_tax=relieves)
        assert (given_up.tax, balance_of(Account.BAD_DEBTS)) == (Decimal(tax), Decimal(bad))
        assert is_clean()

    def test_nothing_open_a_missing_reason_and_a_day_ahead_are_refused(self, payer, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        for fields, sentence in (({"reason": " "}, "needs a reason"), ({"on": date(2027, 1, 1)}, "ahead of today")):
            with pytest.raises(Refused, match=sentence):
                write_off(**{"invoice": invoice, "reason": "x", "on": DAY, "at": AT, "by": owner_manager, **fields})
        write_off(invoice=invoice, reason="x", on=DAY, at=AT, by=owner_manager)
        with pytest.raises(Refused, match="Nothing of this invoice is open"):
            write_off(invoice=invoice, reason="x", on=DAY, at=AT, by=owner_manager)
        with pytest.raises(Refused, match="Take it up again first"):
            credit_invoice(
                invoice=invoice, amounts={lines_of(invoice)[0]: Decimal(5)}, reason="x", on=DAY, at=AT, by=owner_manager
            )

    def test_the_pages_do_both(self, payer, owner_manager, as_owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        page = as_owner_manager.get(reverse("billing:invoice-write-off", args=[invoice.pk])).content.decode()
        assert "The tax in it comes back" not in page
        as_owner_manager.post(reverse("billing:invoice-write-off", args=[invoice.pk]), {"reason": "Moved away."})
        assert "written off" in as_owner_manager.get(invoice.get_absolute_url()).content.decode()
        as_owner_manager.post(reverse("billing:invoice-ask-again", args=[invoice.pk]))
        assert shown(invoice)[0] != "written off"


class TestVerify:
    def test_a_check_that_came_back_and_settles_is_named(self, payer, pay, owner_manager):
        check = pay("95.00", Payment.Method.CHECK, issued_invoice(payer, owner_manager))
        Payment.objects.filter(pk=check.pk).update(returned_on=DAY)
        assert any("came back unpaid and still settles" in fault for fault in faults_of_held())

    def test_a_slip_of_another_sum_and_a_check_banked_by_hand_are_named(self, pay, owner_manager):
        check = pay("95.00")
        slip = bank_takings(checks=[check], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)
        DepositSlip.objects.filter(pk=slip.pk).update(total=96)
        assert any("deposit slip 1 is 96.000, it holds 95.000" in fault for fault in faults_of_held())
        Payment.objects.filter(pk=check.pk).update(slip=None)
        assert any("checks in hand are 0.000 in the books, 95.000" in fault for fault in faults_of_held())

    def test_a_missing_slip_number_is_named(self, pay, owner_manager):
        bank_takings(checks=[pay("95.00")], cash=Decimal(0), on=DAY, at=AT, by=owner_manager)
        DepositSlip.objects.update(number=2)
        assert any("deposit_slip number 1 is missing" in fault for fault in faults_of_held())
