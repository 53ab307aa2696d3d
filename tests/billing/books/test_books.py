"""Month end, tax of a period, income and costs, expenses: counted from what was issued, paid and booked."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from tablib import Dataset

from backoffice.refusal import Refused
from billing.books.actions import end_month, take_back_expense, write_expense
from billing.books.models import Expense, MileageClaim
from billing.books.queries import (
    BY_INVOICE,
    BY_PAYMENT,
    EARNED,
    RECEIVED,
    month_end,
    tax_period,
    year_report,
)
from billing.books.tax_period import TaxLine, part_of_paper, summed
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice, waive_charge
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import lines_of
from billing.invoices.writing_off import write_off
from billing.journal.models import Account, ClosedMonth
from billing.payments.actions import take_payment
from billing.payments.credit import give_credit_back
from billing.payments.models import Payment
from billing.payments.queries import balance_of
from billing.prices.models import Price
from billing.prices.rules import MileageRate
from clients.miles.models import Trip
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
from tests.factories.clients import BarnFactory, PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
YEAR = (date(2026, 1, 1), date(2026, 12, 31))
LATER = date(2026, 4, 2)


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def mixed_invoice(payer, owner_manager) -> Invoice:
    """A session of 95.37 at 21 %, one of 95.37 exempt, a call-out of 30.00 at 21 %: 95.37 + 95.37 + 30.00 + 26.33."""
    TaxRateFactory(percent=Decimal("21"))
    TaxRateFactory(category="exempt", percent=0, text="Exempt.")
    CallOutRuleFactory(amount=Decimal("30.00"))
    barn = BarnFactory()
    for category in ("standard", "exempt"):
        service = priced_service("95.37")
        Price.objects.filter(service=service).update(tax_category=category)
        finished_visit(owned_horse(payer), service, barn=barn)
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    return issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)


@pytest.fixture
def pay(payer, owner_manager):
    def pay(amount: str, *, to: Invoice | None = None, on: date = DAY, tip: str = "0") -> Payment:
        return take_payment(
            payer=payer,
            amount=Decimal(amount),
            method=Payment.Method.CASH,
            received_on=on,
            allocations={to: Decimal(amount) - Decimal(tip)} if to else {},
            tip=Decimal(tip),
            at=AT,
            by=owner_manager,
        )

    return pay


@pytest.fixture
def spend(owner_manager):
    def spend(amount: str, tax: str = "0", **fields) -> Expense:
        expense = Expense(
            **{"day": DAY, "what": "Disinfectant", "category": "supplies", "paid_from": "bank", **fields},
            amount=Decimal(amount),
            tax=Decimal(tax),
        )
        return write_expense(expense=expense, at=AT, by=owner_manager)

    return spend


class TestTaxPeriod:
    def test_by_invoice_it_is_what_the_books_say(self, mixed_invoice, owner_manager):
        lines = lines_of(mixed_invoice)
        credit_invoice(
            invoice=mixed_invoice, amounts={lines[0]: Decimal("33.33")}, reason="x", on=DAY, at=AT, by=owner_manager
        )
        period = tax_period(*YEAR, BY_INVOICE, "USD")
        assert [line.category for line in period.lines] == ["S", "E"]
        assert period.tax == -balance_of(Account.TAX_PAYABLE)
        assert period.base + period.tax == balance_of(Account.RECEIVABLE)
        assert tax_period(date(2026, 4, 1), YEAR[1], BY_INVOICE, "USD").lines == []

    def test_by_payment_the_parts_of_a_whole_add_up_to_it(self, mixed_invoice, pay):
        first = Decimal("77.77")
        pay("77.77", to=mixed_invoice)
        assert sum(line.base + line.tax for line in tax_period(*YEAR, BY_PAYMENT, "USD").lines) == first
        pay(str(mixed_invoice.total - first), to=mixed_invoice)
        assert tax_period(*YEAR, BY_PAYMENT, "USD").lines == tax_period(*YEAR, BY_INVOICE, "USD").lines

    def test_a_rate_that_changed_stands_on_a_line_of_its_own(self, payer, owner_manager):
        TaxRateFactory(percent=Decimal("5"))
        TaxRateFactory(percent=Decimal("6"), since=date(2026, 3, 5))
        issued_invoice(payer, owner_manager)
        finished_visit(owned_horse(payer), priced_service("95.00"), day=date(2026, 3, 6))
        at = AT.replace(day=7)
        confirm_charges(day=date(2026, 3, 6), at=at, by=owner_manager)
        (draft,) = draft_invoices(at=at, by=owner_manager)
        issue_invoice(invoice=draft, on=date(2026, 3, 7), at=at, by=owner_manager)
        assert [(line.percent, line.tax) for line in tax_period(*YEAR, BY_INVOICE, "USD").lines] == [
            ("6", Decimal("5.70")),
            ("5", Decimal("4.75")),
        ]

    def test_relief_and_tax_paid_lower_what_is_left(self, mixed_invoice, spend, owner_manager):
        spend("12.10", "2.10")
        write_off(invoice=mixed_invoice, reason="x", relieves_tax=True, on=DAY, at=AT, by=owner_manager)
        period = tax_period(*YEAR, BY_INVOICE, "USD")
        assert (period.tax, period.relieved, period.owed) == (Decimal("26.33"), Decimal("26.33"), Decimal("-2.10"))

    def test_a_part_of_nothing_and_a_negative_group(self):
        zero = [TaxLine("S", "21", Decimal(0), Decimal(0))]
        assert part_of_paper(zero, before=Decimal(0), now=Decimal(0), currency="USD") == []
        lines = [
            TaxLine("S", "21", Decimal("100.00"), Decimal("21.00")),
            TaxLine("E", "0", Decimal("-20.00"), Decimal(0)),
        ]
        steps = [Decimal("33.33"), Decimal("33.33"), Decimal("34.34")]
        held, before = [], Decimal(0)
        for step in steps:
            held += part_of_paper(lines, before=before, now=step, currency="USD")
            before += step
        assert summed(held) == lines

    def test_the_page_counts_and_exports(self, mixed_invoice, as_owner_manager, as_assistant):
        page = as_owner_manager.get(
            reverse("billing:tax-period"), {"since": "2026-01-01", "until": "2026-12-31", "basis": "invoice"}
        )
        assert "Taxable at 21 %" in page.content.decode()
        file = as_owner_manager.get(
            reverse("billing:tax-period"),
            {"since": "2026-01-01", "until": "2026-12-31", "basis": "invoice", "export": "csv"},
        )
        assert "Taxable at 21 %,125.37,26.33" in file.content.decode()
        wrong = as_owner_manager.get(
            reverse("billing:tax-period"), {"since": "2026-02-01", "until": "2026-01-01", "basis": "x"}
        )
        assert wrong.status_code == 200
        assert as_assistant.get(reverse("billing:tax-period")).status_code == 403


class TestYear:
    def test_as_earned_it_is_what_the_income_accounts_say(self, mixed_invoice, spend):
        spend("40.00", category="training")
        report = year_report(*YEAR, EARNED, "USD")
        assert [(line.words, line.amount) for line in report.income] == [
            ("Sessions", Decimal("190.74")),
            ("Call-outs", Decimal("30.00")),
        ]
        assert [(line.words, line.amount) for line in report.costs] == [("Training", Decimal("40.00"))]
        assert (report.left, report.tax) == (Decimal("180.74"), Decimal("26.33"))

    def test_as_received_it_is_the_money_that_came_in(self, mixed_invoice, pay, payer, owner_manager):
        pay("105.00", to=mixed_invoice, tip="5.00")
        pay("20.00")
        give_credit_back(payer=payer, amount=Decimal(8), method=Payment.Method.CASH, on=DAY, at=AT, by=owner_manager)
        report = year_report(*YEAR, RECEIVED, "USD")
        assert report.income_total + report.tax == Decimal("105.00") + 20 - 8
        words = {line.words: line.amount for line in report.income}
        assert (words["Tips"], words["On account, for no invoice yet"], words["Given back"]) == (5, 20, -8)
        assert set(words) >= {"Sessions", "Call-outs"}

    def test_the_page_shows_both(self, mixed_invoice, pay, as_owner_manager):
        pay("100.00", to=mixed_invoice)
        for basis in ("received", "earned"):
            asked = {"since": "2026-01-01", "until": "2026-12-31", "basis": basis}
            assert "Sessions" in as_owner_manager.get(reverse("billing:year-report"), asked).content.decode()
            file = as_owner_manager.get(reverse("billing:year-report"), asked | {"export": "csv"}).content.decode()
            assert "Income,Sessions," in file

    @pytest.mark.parametrize("name", ["billing:year-report", "billing:tax-period"])
    def test_each_is_a_table_a_picture_and_two_kinds_of_file(self, mixed_invoice, pay, as_owner_manager, name):
        pay("100.00", to=mixed_invoice)
        asked = {"since": "2026-01-01", "until": "2026-12-31", "basis": RECEIVED if "year" in name else BY_PAYMENT}
        page = as_owner_manager.get(reverse(name), asked).content.decode()
        assert page.count('class="bar-row"') > 1
        assert "/money/payments/?received_from=2026-01-01&amp;received_to=2026-12-31" in page
        sheet = as_owner_manager.get(reverse(name), asked | {"export": "xlsx"})
        table = Dataset().load(sheet.content, format="xlsx")
        written = as_owner_manager.get(reverse(name), asked | {"export": "csv"}).content.decode()
        assert len(table) == written.count("\r\n") - 1
        assert as_owner_manager.get(reverse(name), asked | {"export": "exe"}).content.decode().startswith("\n<!doctype")

    def test_a_cost_leads_to_its_expenses(self, mixed_invoice, as_owner_manager, spend):
        spend("40.00")
        asked = {"since": "2026-01-01", "until": "2026-12-31", "basis": "earned"}
        page = as_owner_manager.get(reverse("billing:year-report"), asked).content.decode()
        (address,) = re.findall(r'href="(/money/expenses/[^"]+)"', page)
        assert "40.00" in as_owner_manager.get(address.replace("&amp;", "&")).content.decode()

    def test_the_journal_can_be_taken_away(self, mixed_invoice, as_owner_manager):
        text = b"".join(as_owner_manager.get(reverse("billing:ledger"))).decode()
        assert "Assets:Receivable" in text
        rows = b"".join(as_owner_manager.get(reverse("billing:ledger"), {"format": "csv"})).decode()
        assert rows.startswith("number,day,text")


class TestExpenses:
    def test_one_is_booked_and_taken_back(self, spend, owner_manager):
        expense = spend("12.10", "2.10")
        accounts = (Account.EXPENSES, Account.TAX_PAID, Account.BANK)
        assert [balance_of(account) for account in accounts] == [10, Decimal("2.10"), Decimal("-12.10")]
        take_back_expense(expense=expense, on=DAY, at=AT, by=owner_manager)
        assert [balance_of(account) for account in accounts] == [0, 0, 0]
        assert year_report(*YEAR, EARNED, "USD").costs == []
        with pytest.raises(Refused, match="already"):
            take_back_expense(expense=expense, on=DAY, at=AT, by=owner_manager)

    @pytest.mark.parametrize("paid_from", ["bank", "cash", "capital"])
    def test_it_is_paid_from_bank_cash_or_ones_own_pocket(self, spend, paid_from):
        spend("5.00", paid_from=paid_from)
        assert balance_of(Account(paid_from)) == -5

    @pytest.mark.parametrize(
        ("fields", "sentence"),
        [
            ({"amount": "0"}, "more than nothing"),
            ({"amount": "-0.01"}, "more than nothing"),
            ({"amount": "5", "tax": "5.01"}, "a part of it"),
            ({"amount": "10000000"}, "a million at most"),
            ({"amount": "5", "day": date(2027, 1, 1)}, "ahead of today"),
        ],
    )
    def test_bad_amounts_and_days_are_refused(self, spend, fields, sentence):
        with pytest.raises(Refused, match=sentence):
            spend(fields.pop("amount"), fields.pop("tax", "0"), **fields)
        assert not Expense.objects.exists()

    def test_the_pages_write_list_and_take_back(self, as_owner_manager, as_assistant):
        sent = {
            "what": "Fly spray",
            "amount": "9.50",
            "tax": "",
            "day": "2026-03-02",
            "category": "supplies",
            "paid_from": "cash",
        }
        assert as_owner_manager.post(reverse("billing:expense-new"), sent).status_code == 302
        assert "Fly spray" in as_owner_manager.get(reverse("billing:expenses")).content.decode()
        expense = Expense.objects.get()
        assert "9.50" in as_owner_manager.get(reverse("billing:expense", args=[expense.pk])).content.decode()
        as_owner_manager.post(reverse("billing:expense-take-back", args=[expense.pk]))
        as_owner_manager.get(reverse("billing:expenses"))  # its message names the expense
        assert "Fly spray" not in as_owner_manager.get(reverse("billing:expenses")).content.decode()
        wrong = as_owner_manager.post(reverse("billing:expense-new"), sent | {"tax": "9.51", "day": "2099-01-01"})
        assert "more than the amount it is in" in wrong.content.decode()
        assert "still to come" in wrong.content.decode()
        assert as_assistant.get(reverse("billing:expenses")).status_code == 403


class TestMonthEnd:
    def test_it_says_what_is_still_open(self, payer, business, owner_manager):
        issued_invoice(payer, owner_manager)
        visit = finished_visit(owned_horse(payer), priced_service("80.00"), day=date(2026, 3, 3))
        waive_charge(
            day=date(2026, 3, 3), key=f"session-{visit.sessions.get().pk}", reason="A gift.", at=AT, by=owner_manager
        )
        finished_visit(owned_horse(payer), priced_service("70.00"), day=date(2026, 3, 4))
        month = month_end(date(2026, 3, 1), business)
        assert month.uncharged == [date(2026, 3, 4)]
        assert month_end(date(2026, 2, 1), business).uncharged == []  # work of the month after is not its matter
        assert (month.waived_total, month.owed, month.owed_total) == (80, 1, 95)
        assert not month.is_closed

    def test_closing_books_confirmed_mileage_once_and_late_ones_later(self, business, owner_manager):
        MileageRate.objects.create(since=date(2026, 1, 1), amount=Decimal("0.725"), source="IRS Notice 2026-10")
        trip = {"driver": owner_manager, "places": "x", "purpose": "rounds", "written_at": AT}
        Trip.objects.create(day=date(2026, 2, 3), metres=160_934, measured="odometer", **trip)
        late = Trip.objects.create(day=date(2026, 2, 4), metres=80_467, measured="estimate", **trip)
        month = month_end(date(2026, 2, 1), business)
        assert (month.claim, month.estimates) == (Decimal("72.50"), 1)
        end_month(month=date(2026, 2, 1), today=LATER, at=AT, by=owner_manager)
        assert balance_of(Account.MOTOR_EXPENSE) == Decimal("72.50")
        assert balance_of(Account.CAPITAL) == Decimal("-72.50")
        late.measured = "odometer"
        late.save()
        end_month(month=date(2026, 3, 1), today=LATER, at=AT, by=owner_manager)
        assert balance_of(Account.MOTOR_EXPENSE) == Decimal("108.75")
        assert [claim.amount for claim in MileageClaim.objects.all()] == [Decimal("36.25"), Decimal("72.50")]

    def test_what_is_not_over_is_not_closed(self, business, owner_manager):
        with pytest.raises(Refused, match="not over yet"):
            end_month(month=date(2026, 4, 1), today=LATER, at=AT, by=owner_manager)
        assert not ClosedMonth.objects.exists()

    def test_after_closing_a_correction_lands_in_the_open_month(self, payer, owner_manager, pay, as_owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        end_month(month=date(2026, 3, 1), today=LATER, at=AT, by=owner_manager)
        with pytest.raises(Refused, match="March 2026 is closed"):
            pay("95.00", to=invoice)
        sent = {"amount": "95.00", "method": "cash", "received_on": "2026-03-10"}
        answer = as_owner_manager.post(reverse("billing:payment-new", args=[payer.pk]), sent)
        assert answer.status_code == 422
        assert "March 2026 is closed. Book it on 1 Apr 2026 or later." in answer.content.decode()

    def test_the_page_closes_and_says_so(self, payer, owner_manager, as_owner_manager, as_assistant):
        where = reverse("billing:month-end")
        assert "Close March 2026" in as_owner_manager.get(where, {"month": "2026-03"}).content.decode()
        as_owner_manager.post(reverse("billing:month-close", args=["2026-03-01"]))
        page = as_owner_manager.get(where, {"month": "2026-03"}).content.decode()
        assert "Nothing is booked in March 2026 any more." in page
        assert as_owner_manager.get(where, {"month": "x"}).status_code == 404
        assert as_owner_manager.get(where).status_code == 200
        assert as_assistant.get(where).status_code == 403
