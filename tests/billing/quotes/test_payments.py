"""What is paid when: dates and amounts that add up to the total."""

from dataclasses import replace
from datetime import date, timedelta

from billing.money.call_out import CallOut
from billing.money.monthly import MonthlyPlan
from billing.money.packages import Package
from billing.money.portion import Discount, Portion
from billing.money.tax import Tax
from billing.quotes.comparison import compare
from billing.quotes.payments import Payment
from clients.plans.cadence import Phase
from tests.billing.quotes.requests import HIRE, MONTHLY, START, WEEKLY, D, hire, option, request, visits


def measured(*plans, packages=None, discount=None, **changes):
    chosen = option("one", *plans, packages=packages or {}, discount=discount)
    return compare(request(chosen, **changes)).options[0]


def told(result):
    return [(str(each.on) if each.on else None, each.what, str(each.amount)) for each in result.payments]


def test_each_visit_is_paid_on_its_day_with_its_call_out():
    assert told(measured(visits(WEEKLY))) == [
        (str(START + timedelta(days=7 * week)), "Visit", "125.00") for week in range(4)
    ]


def test_two_drives_of_a_day_are_paid_together():
    assert told(measured(visits(Phase(1, spots_per_day=2)))) == [("2026-03-02", "Visit", "150.00")]


def test_a_hire_is_paid_on_the_first_day_and_its_visits_on_theirs():
    rates = replace(HIRE, delivery=D("40.00"), collection=D("25.00"))
    assert told(measured(hire(WEEKLY), hire=rates)) == [
        ("2026-03-02", "Hire of the machine", "1240.00"),
        ("2026-03-02", "Training visit", "150.00"),
        ("2026-03-11", "Follow-up visit", "125.00"),
        ("2026-03-21", "Follow-up visit", "125.00"),
        ("2026-03-29", "Collection of the machine", "55.00"),
    ]


def test_a_package_is_paid_on_the_first_day_and_then_only_the_drives():
    result = measured(visits(WEEKLY), packages={"One": (Package("four", D("340.00"), {"full": 4}),)})
    assert told(result)[:2] == [("2026-03-02", "four", "340.00"), ("2026-03-02", "Call-out", "30.00")]
    assert len(result.payments) == 5


def test_a_plan_month_is_paid_on_its_first_day():
    plan = MonthlyPlan("one a month", D("90.00"), {"full": 1})
    result = measured(visits(Phase(62, full_every=31), monthly=plan), days=62, call_out=CallOut(D(0)))
    assert told(result) == [
        ("2026-03-02", "one a month", "90.00"),
        ("2026-04-02", "one a month", "90.00"),
        ("2026-05-02", "one a month", "2.90"),
    ]


def test_tax_and_discount_are_divided_by_largest_remainder():
    tenth = Discount(Portion(percent=D(10)), "an old friend")
    result = measured(visits(Phase(21, full_every=7)), discount=tenth, tax=Tax(D("7")), call_out=CallOut(D("5.05")))
    # 3 × 100.05 = 300.15, less 30.02, is 270.13; 7 % is 18.91; 289.04 in three parts.
    assert result.total == D("289.04")
    assert [str(each.amount) for each in result.payments] == ["96.35", "96.35", "96.34"]


def test_the_booking_deposit_comes_first_and_is_deducted_from_the_next_payments():
    result = measured(visits(WEEKLY), booking_deposit=Portion(percent=D("40")))
    assert told(result) == [
        (None, "Booking deposit", "200.00"),
        ("2026-03-09", "Visit", "50.00"),
        ("2026-03-16", "Visit", "125.00"),
        ("2026-03-23", "Visit", "125.00"),
    ]


def test_a_booking_deposit_is_never_more_than_the_price():
    assert told(measured(visits(MONTHLY), booking_deposit=Portion(amount=D("900.00")))) == [
        (None, "Booking deposit", "125.00")
    ]


def test_each_owner_pays_their_own():
    result = measured(visits(WEEKLY), visits(MONTHLY), owners=("One", "Two"), booking_deposit=Portion(amount=D(100)))
    # 110 + 3 × 125 and 110: of 595.00 together, 100.00 is 81.51 and 18.49.
    assert result.owners_payments["Two"] == (
        Payment(None, "Booking deposit", D("18.49")),
        Payment(date(2026, 3, 2), "Visit", D("91.51")),
    )
    assert result.payments[0] == Payment(None, "Booking deposit", D("100.00"))
    assert sum(each.amount for each in result.payments) == result.total


def test_nothing_to_pay_has_no_payments():
    assert measured(visits(Phase(28))).payments == ()
