"""From the sale of a package or the month of a plan to the income of its sessions."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.invoices.actions import Change, confirm_charges, discard_invoice, draft_invoices, issue_invoice
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Charge
from billing.invoices.queries import lines_of, proposals_for, uncharged_days, uncharged_sessions
from billing.journal.models import Account, Posting
from billing.packages import actions, verification
from billing.packages.queries import say_left
from billing.packages.sold import Deduction, PackageSold, PlanMonth, Use
from billing.prices.rules import MoneyRules
from tests.factories.billing import (
    AT,
    DAY,
    TaxRateFactory,
    confirmed_work,
    finished_visit,
    owned_horse,
    priced_service,
)
from tests.factories.clients import PersonFactory
from tests.factories.packages import package_of, running_plan, sold_package

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business", "private_folder")]
NEXT = DAY + timedelta(days=1)


@pytest.fixture
def full():
    return priced_service("95.00", name="Full body")


@pytest.fixture
def payer():
    return PersonFactory(name="Desmond Quarrie")


def session_lines(day: date = DAY) -> list[tuple[Decimal, str]]:
    return [(each.amount, each.reason) for each in proposals_for(day) if each.kind == Charge.Kind.SESSION]


def balance(account: Account) -> Decimal:
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def bill(payer, by, on: date = DAY):
    (draft,) = draft_invoices(at=AT, by=by, payer=payer)
    return issue_invoice(invoice=draft, on=on, at=AT, by=by)


def faults() -> list[str]:
    return [*verification.faults_of_counts(), *verification.faults_of_liability()]


class TestPackages:
    def test_a_sale_waits_to_be_charged_and_its_sessions_hold_at_once(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager)
        finished_visit(owned_horse(payer), full)
        sale, session = proposals_for(DAY)
        assert (sale.kind, sale.amount, sale.key) == ("package", Decimal("800.00"), f"package-{sold.pk}")
        assert sale.reason == "10 × Full body, until 2 May 2026"
        assert (session.amount, session.reason) == (0, "1 of 10 of Ten full bodies, until 2 May 2026")
        assert uncharged_days(DAY) == [DAY]

    def test_sold_is_owed_and_each_use_is_income_until_the_last_empties_it(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager, count=3, price="100.00")
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        assert balance(Account.PACKAGE_LIABILITY) == -100
        earned = []
        for _ in range(3):
            finished_visit(owned_horse(payer), full)
            confirm_charges(day=DAY, at=AT, by=owner_manager)
            earned.append(PackageSold.objects.get(pk=sold.pk).earned)
            assert faults() == []
        assert earned == [Decimal("33.33"), Decimal("66.67"), Decimal("100.00")]
        assert balance(Account.PACKAGE_LIABILITY) == 0
        assert balance(Account.INCOME_SESSIONS) == -100
        assert not uncharged_sessions().exists()

    def test_used_before_it_is_invoiced_counts_at_the_invoice(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, count=4)
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert balance(Account.INCOME_SESSIONS) == 0
        bill(payer, owner_manager)
        assert (balance(Account.INCOME_SESSIONS), balance(Account.PACKAGE_LIABILITY)) == (-200, -600)

    def test_tax_is_taken_when_it_is_sold_and_never_again(self, full, payer, owner_manager):
        TaxRateFactory(percent=Decimal("5"))
        sold_package(payer, full, owner_manager, count=4)
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert bill(payer, owner_manager).total == 840
        assert balance(Account.TAX_PAYABLE) == -40
        assert balance(Account.PACKAGE_LIABILITY) + balance(Account.INCOME_SESSIONS) == -800

    def test_it_never_goes_below_zero_and_says_so(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, count=1)
        horse = owned_horse(payer)
        finished_visit(horse, full)
        finished_visit(horse, full)
        assert [amount for amount, _ in session_lines()] == [0, Decimal("95.00")]
        assert session_lines()[1][1] == "Standard price from 1 Jan 2026; Ten full bodies is used up"

    def test_the_days_share_what_is_left(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, count=1)
        finished_visit(owned_horse(payer), full)
        finished_visit(owned_horse(payer), full, day=NEXT)
        confirm_charges(day=NEXT, at=AT, by=owner_manager)
        assert session_lines()[0][0] == Decimal("95.00")

    def test_after_its_last_day_the_list_price_holds(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, days=1)
        finished_visit(owned_horse(payer), full, day=NEXT)
        amount, reason = session_lines(NEXT)[0]
        assert amount == Decimal("95.00")
        assert reason.endswith("Ten full bodies ended on 2 Mar 2026")

    def test_the_one_that_ends_first_is_used_first(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, days=None)
        sold_package(payer, full, owner_manager, name="Spring", days=30)
        finished_visit(owned_horse(payer), full)
        assert "of Spring" in session_lines()[0][1]

    def test_it_serves_the_named_horse_only(self, full, payer, owner_manager):
        first, second = owned_horse(payer), owned_horse(payer)
        sold_package(payer, full, owner_manager, animals=[first])
        finished_visit(first, full)
        finished_visit(second, full)
        assert [amount for amount, _ in session_lines()] == [0, Decimal("95.00")]

    def test_without_a_name_it_serves_no_horse_that_somebody_else_pays_for_too(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager)
        finished_visit(owned_horse((payer, "1/2"), (PersonFactory(), "1/2")), full)
        assert session_lines()[0][0] == Decimal("95.00")

    def test_another_amount_with_a_reason_leaves_the_package_alone(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager)
        visit = finished_visit(owned_horse(payer), full)
        key = f"session-{visit.sessions.get().pk}"
        change = {key: Change(Decimal(50), "half of it was by hand")}
        (charge,) = confirm_charges(day=DAY, keys={key}, changes=change, at=AT, by=owner_manager)
        assert (charge.amount, sold.uses.count()) == (50, 0)

    def test_taken_back_whole_it_ends_and_leaves_no_income_and_no_debt(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager, count=4, price="100.00")
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        invoice = bill(payer, owner_manager)
        assert (balance(Account.PACKAGE_LIABILITY), balance(Account.INCOME_SESSIONS)) == (-75, -25)
        (line,) = lines_of(invoice)
        with pytest.raises(Refused, match="is taken back whole"):
            credit_invoice(
                invoice=invoice, amounts={line: Decimal(40)}, reason="Moved.", on=DAY, at=AT, by=owner_manager
            )
        credit_invoice(invoice=invoice, amounts={line: line.amount}, reason="Moved.", on=DAY, at=AT, by=owner_manager)
        sold.refresh_from_db()
        assert (sold.net, sold.earned, sold.closed_on) == (0, 0, DAY)
        for account in (Account.PACKAGE_LIABILITY, Account.INCOME_SESSIONS, Account.RECEIVABLE):
            assert balance(account) == 0
        assert faults() == []

    @pytest.mark.parametrize("included", [False, True])
    def test_only_what_is_unused_goes_back_with_its_tax_and_what_was_used_stays(
        self, included, full, payer, owner_manager
    ):
        """3 of 4 sessions of 100.00: at 7 % on top 75.00 and 5.25; with the tax in the price 75.00 of it."""
        TaxRateFactory(percent=Decimal(7), is_included=included)
        sold = sold_package(payer, full, owner_manager, count=4, price="100.00")
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        invoice = bill(payer, owner_manager)
        (line,) = lines_of(invoice)
        told = {"reason": "Moved.", "on": DAY, "at": AT, "by": owner_manager}
        with pytest.raises(Refused, match=r"taken back whole, \$100.00, or what is unused of it, \$75.00"):
            credit_invoice(invoice=invoice, amounts={line: Decimal(74)}, **told)
        note = credit_invoice(invoice=invoice, amounts={line: Decimal(75)}, **told)
        assert note.total == (75 if included else Decimal("80.25"))
        assert note.frozen["lines"][0]["basis"] == "3 of 4 Full body unused"
        sold.refresh_from_db()
        assert (sold.unearned, sold.closed_on) == (0, DAY)
        assert balance(Account.PACKAGE_LIABILITY) == 0
        assert -balance(Account.INCOME_SESSIONS) == sold.net == invoice.net - note.net
        assert -balance(Account.TAX_PAYABLE) == invoice.tax - note.tax
        assert faults() == []
        assert say_left(payer, DAY) == []
        (line,) = lines_of(invoice)
        with pytest.raises(Refused, match=r"has \$25.00 left to take back"):
            credit_invoice(invoice=invoice, amounts={line: Decimal(75)}, **told)

    def test_undoing_gives_it_back_with_a_trail(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager, count=3, price="100.00")
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        use = Use.objects.get()
        with pytest.raises(Refused, match="needs a reason"):
            actions.undo_use(use=use, reason=" ", at=AT, by=owner_manager)
        actions.undo_use(use=use, reason="wrong horse", at=AT, by=owner_manager)
        assert balance(Account.PACKAGE_LIABILITY) == -100
        assert uncharged_sessions().count() == 1
        assert faults() == []
        assert Entry.objects.filter(action="package session given back").count() == 1
        with pytest.raises(Refused, match="undone already"):
            actions.undo_use(use=use, reason="again", at=AT, by=owner_manager)

    def test_terms_are_copied_and_a_new_price_changes_nothing_sold(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager)
        sold.package.price = Decimal(1)
        sold.package.save()
        assert proposals_for(DAY)[0].amount == Decimal("800.00")

    def test_the_rest_is_kept_only_where_somebody_recorded_that_it_may_be(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager, days=1)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        with pytest.raises(Refused, match="has not ended"):
            actions.keep_rest(sold=sold, at=AT, by=owner_manager)
        later = AT + timedelta(days=2)
        with pytest.raises(Refused, match="not recorded that keeping the rest is allowed"):
            actions.keep_rest(sold=sold, at=later, by=owner_manager)
        MoneyRules.objects.create(since=DAY, keeps_unused=True, keeps_unused_source="Invented lawyer")
        actions.keep_rest(sold=sold, at=later, by=owner_manager)
        assert (balance(Account.PACKAGE_LIABILITY), balance(Account.INCOME_SESSIONS)) == (0, -800)
        assert faults() == []
        with pytest.raises(Refused, match="closed already"):
            actions.keep_rest(sold=sold, at=later, by=owner_manager)

    def test_an_invoice_says_what_is_left(self, full, payer, owner_manager):
        sold_package(payer, full, owner_manager)
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert say_left(payer, DAY) == ["Ten full bodies: 9 of 10 Full body left, until 2 May 2026"]
        assert bill(payer, owner_manager).frozen["packages"] == say_left(payer, DAY)


class TestMonthlyPlans:
    def test_each_month_is_due_on_its_first_day(self, full, payer, owner_manager):
        running_plan(owned_horse(payer, name="Biscuit"), full, owner_manager, start=date(2026, 1, 31))
        assert uncharged_days(date(2026, 3, 31)) == [date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31)]
        (month,) = proposals_for(date(2026, 2, 28))
        assert (month.amount, month.text) == (Decimal("170.00"), "Two a month, Biscuit")
        assert month.reason == "month from 28 Feb 2026: 2 × Full body"

    def test_sessions_in_it_cost_nothing_more_and_one_beyond_its_own_price(self, full, payer, owner_manager):
        horse = owned_horse(payer)
        running_plan(horse, full, owner_manager, beyond=Decimal("85.00"))
        for _ in range(3):
            finished_visit(horse, full)
        assert session_lines() == [
            (0, "1 of 2 of Two a month, month from 2 Mar 2026"),
            (0, "2 of 2 of Two a month, month from 2 Mar 2026"),
            (Decimal("85.00"), "beyond 2 a month of Two a month"),
        ]

    def test_a_session_is_income_and_the_rest_at_the_end_of_the_month(self, full, payer, owner_manager):
        horse = owned_horse(payer)
        running_plan(horse, full, owner_manager, ends_on=date(2026, 4, 1))
        finished_visit(horse, full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        assert (balance(Account.PACKAGE_LIABILITY), balance(Account.INCOME_SESSIONS)) == (-85, -85)
        actions.earn_ended_months(date(2026, 4, 2))
        assert balance(Account.PACKAGE_LIABILITY) == 0
        assert Posting.objects.latest("pk").transaction.day == date(2026, 4, 1)
        assert faults() == []

    def test_a_part_month_costs_its_days(self, full, payer, owner_manager):
        running_plan(owned_horse(payer), full, owner_manager, ends_on=date(2026, 3, 16))
        (month,) = proposals_for(DAY)
        assert month.amount == Decimal("82.26")  # 170 × 15 / 31
        assert "15 of 31 days: 1 × Full body" in month.reason

    def test_stopping_ends_it_with_the_month_that_runs(self, full, payer, owner_manager):
        run = running_plan(owned_horse(payer), full, owner_manager)
        with pytest.raises(Refused, match="needs a reason"):
            actions.stop_monthly_plan(run=run, reason="", at=AT, by=owner_manager)
        stopped = actions.stop_monthly_plan(run=run, reason="moved away", at=AT, by=owner_manager)
        assert stopped.ends_on == date(2026, 4, 1)
        assert uncharged_days(date(2026, 6, 1)) == [DAY]

    def test_one_is_not_started_twice_for_a_horse(self, full, payer, owner_manager):
        run = running_plan(owned_horse(payer), full, owner_manager)
        with pytest.raises(Refused, match="running for"):
            actions.start_monthly_plan(plan=run.plan, animal=run.animal, start=DAY, at=AT, by=owner_manager)

    def test_co_owners_share_the_month_and_the_books_agree(self, full, payer, owner_manager):
        other = PersonFactory()
        horse = owned_horse((payer, "1/2"), (other, "1/2"))
        running_plan(horse, full, owner_manager)
        finished_visit(horse, full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        assert faults() == []
        bill(other, owner_manager)
        assert (PlanMonth.objects.get().net, balance(Account.PACKAGE_LIABILITY)) == (170, -85)
        assert faults() == []


class TestDeductions:
    def test_a_booking_deposit_by_rule_is_charged_and_comes_off_the_next_invoice(self, payer, owner_manager):
        TaxRateFactory(percent=Decimal("5"))
        MoneyRules.objects.create(since=DAY, deposit="percent", deposit_percent=25)
        deposit = actions.ask_booking_deposit(
            payer=payer, total=Decimal("400"), on=DAY, at=AT, by=owner_manager, quote_number=14
        )
        (proposal,) = proposals_for(DAY)
        assert (proposal.amount, proposal.key) == (100, f"deposit-{deposit.pk}")
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert bill(payer, owner_manager).total == 105
        assert balance(Account.BOOKING_DEPOSITS) == -100
        confirmed_work(payer, owner_manager, "95.00")
        first = bill(payer, owner_manager)
        assert (first.total, balance(Account.BOOKING_DEPOSITS)) == (0, -5)
        confirmed_work(payer, owner_manager, "95.00")
        second = bill(payer, owner_manager)
        assert (second.net, second.tax, balance(Account.BOOKING_DEPOSITS)) == (90, Decimal("4.50"), 0)

    def test_a_deposit_that_is_not_invoiced_takes_nothing_off(self, payer, owner_manager):
        kind = Deduction.Kind.DEPOSIT
        actions.agree_deduction(
            kind=kind, payer=payer, amount=Decimal(50), on=DAY, reason="quote 3", at=AT, by=owner_manager
        )
        confirmed_work(payer, owner_manager)
        (draft,) = draft_invoices(at=AT, by=owner_manager, payer=payer)
        assert draft.total == 95

    def test_a_discarded_draft_gives_the_discount_back(self, payer, owner_manager):
        actions.agree_deduction(
            kind=Deduction.Kind.DISCOUNT, payer=payer, amount=Decimal(20), on=DAY, reason="first year", at=AT,
            by=owner_manager,
        )  # fmt: skip
        confirmed_work(payer, owner_manager)
        (draft,) = draft_invoices(at=AT, by=owner_manager, payer=payer)
        assert draft.total == 75
        discard_invoice(invoice=draft, at=AT, by=owner_manager)
        assert not Charge.objects.filter(kind="discount").exists()
        assert bill(payer, owner_manager).total == 75
        assert balance(Account.INCOME_SESSIONS) == -75

    @pytest.mark.parametrize(("rule", "amount"), [({"deposit": "none"}, None), ({"deposit": "amount", "deposit_amount": 900}, 400)])  # fmt: skip # noqa: E501
    def test_none_is_asked_by_default_and_never_more_than_the_price(self, payer, owner_manager, rule, amount):
        MoneyRules.objects.create(since=DAY, **rule)
        found = actions.ask_booking_deposit(payer=payer, total=Decimal(400), on=DAY, at=AT, by=owner_manager)
        assert (found.amount if found else None) == amount

    def test_nothing_is_no_deduction(self, payer, owner_manager):
        with pytest.raises(Refused, match="more than nothing"):
            actions.agree_deduction(
                kind=Deduction.Kind.DISCOUNT, payer=payer, amount=Decimal(0), on=DAY, reason="x", at=AT,
                by=owner_manager,
            )  # fmt: skip


class TestVerify:
    @pytest.fixture
    def sold(self, full, payer, owner_manager):
        sold = sold_package(payer, full, owner_manager, count=2)
        finished_visit(owned_horse(payer), full)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        bill(payer, owner_manager)
        return sold

    def test_a_liability_that_is_not_what_is_unused_is_named(self, sold):
        Posting.objects.filter(account=Account.PACKAGE_LIABILITY, amount__lt=0).update(amount=-700)
        assert faults() == ["packages: the books still owe 300.000, what is unused is 400.000."]

    def test_income_without_a_use_is_named(self, sold):
        PackageSold.objects.update(earned=Decimal("500"))
        assert any(fault.startswith(f"package {sold.pk}: 500") for fault in faults())

    def test_more_uses_than_it_holds_are_named(self, sold):
        sold.parts.update(count=0)
        assert any("holds 0 of service" in fault for fault in faults())


def test_several_services_are_counted_each_for_itself(full, payer, owner_manager):
    spot = priced_service("45.00", name="Spot")
    package = package_of((full, 5), (spot, 1), name="Season")
    actions.sell_package(package=package, payer=payer, on=DAY, at=AT, by=owner_manager)
    horse = owned_horse(payer)
    for service in (full, spot, spot):
        finished_visit(horse, service)
    assert [reason for _, reason in session_lines()] == [
        "1 of 5 × Full body of Season, until 2 May 2026",
        "1 of 1 × Spot of Season, until 2 May 2026",
        "Standard price from 1 Jan 2026; Season is used up",
    ]
