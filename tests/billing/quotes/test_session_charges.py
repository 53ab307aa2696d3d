"""Packages and plan months in an option: which sessions they pay, and what is left (worked by hand)."""

from datetime import date
from decimal import Decimal

import pytest

from billing.money.call_out import CallOut
from billing.money.monthly import MonthlyPlan
from billing.money.packages import Package
from billing.money.pricing import Break, Service, What
from billing.money.tax import Rounding, Tax
from billing.quotes.comparison import compare
from clients.plans.cadence import Kind, Phase
from tests.billing.quotes.requests import SERVICES, START, THIRD_DAY, WEEKLY, D, option, request, visits

FREE = {"call_out": CallOut(D("0.00")), "guideline": None}
FOUR = Package("four", D("340.00"), {"full": 4})
TWO_A_MONTH = MonthlyPlan("two a month", D("170.00"), {"full": 2}, {"full": D("85.00")})


def measured(*plans, packages=None, discount=None, **changes):
    chosen = option("one", *plans, packages=packages or {}, discount=discount)
    return compare(request(chosen, **{**FREE, **changes})).options[0]


def charged(result):
    return [(line.horse or line.owner, line.what, line.count, str(line.each)) for line in result.lines]


def test_a_package_pays_the_first_sessions_and_the_rest_is_at_the_list_price():
    result = measured(visits(THIRD_DAY), packages={"One": (FOUR,)})
    assert charged(result) == [("A", "full", 6, "95.00"), ("One", "package", 1, "340.00")]
    assert result.total == D("910.00")
    assert result.sessions == 10
    assert result.notices == ('One: 4 of 4 sessions of the package "four" are used in these 28 days.',)


def test_breaks_count_only_the_sessions_beyond_the_package():
    services = {Kind.FULL: Service(60, D("95.00"), (Break(7, D("10.00")),))}
    assert measured(visits(THIRD_DAY), packages={"One": (FOUR,)}, services=services).total == 340 + 6 * D(95)
    assert measured(visits(THIRD_DAY), services=services).total == 10 * D(10)


@pytest.mark.parametrize(("days", "left"), [(9, 7), (10, 6), (180, 6)])
def test_what_falls_after_the_packages_end_is_at_the_list_price(days, left):
    # Full bodies on days 0, 3, 6 and 9: a package of nine days has ended by day 9.
    short = Package("four", D("340.00"), {"full": 4}, days=days)
    assert measured(visits(THIRD_DAY), packages={"One": (short,)}).lines[0].count == left


def test_horses_of_an_owner_use_it_by_date_and_then_in_the_stated_order():
    # Days 0 and 7 of A, day 0 of B: one left for A on day 14 and on day 21.
    package = Package("three", D("100.00"), {"full": 3})
    result = measured(
        visits(WEEKLY), visits(Phase(1, full_every=1)), owners=("One", "One"), packages={"One": (package,)}
    )
    money = {horse.name: str(horse.money.sessions) for horse in result.horses}
    assert money == {"A": str(D("66.67") + 2 * 95), "B": "33.33"}
    assert result.total == D("290.00")


def test_another_owners_sessions_are_not_paid_by_it():
    result = measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "Two"), packages={"One": (FOUR,)})
    assert [owner.total for owner in result.owners] == [D("340.00"), D("380.00")]


def test_a_package_that_nobody_uses_falls_on_the_owners_first_horse():
    spots = Package("spots", D("90.00"), {"spot": 3})
    result = measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "One"), packages={"One": (spots,)})
    assert [horse.money.sessions for horse in result.horses] == [D("470.00"), D("380.00")]
    assert result.notices == ('One: 0 of 3 sessions of the package "spots" are used in these 28 days.',)


def test_a_package_is_one_line_of_tax():
    tax = Tax(D("7"), Rounding.LINE)
    package = Package("four", D("0.08"), {"full": 4})
    result = measured(visits(WEEKLY), packages={"One": (package,)}, tax=tax)
    assert (result.total, result.owners[0].tax) == (D("0.09"), D("0.01"))


def test_plan_months_pay_two_each_and_more_cost_the_stated_price():
    # 2 Mar to 1 May, 61 days: two whole months (31 and 30 days) with weekly full bodies: 5 and 4.
    result = measured(visits(Phase(61, full_every=7), monthly=TWO_A_MONTH), days=61)
    assert charged(result) == [("A", "monthly", 2, "170.00"), ("A", "full", 5, "85.00")]
    assert result.lines[0].on == (START, date(2026, 4, 2))
    assert result.total == D("765.00")


def test_a_part_month_is_charged_by_days_and_holds_its_part_of_the_sessions():
    # 31 Jan, 28 Feb, 31 Mar, then 15 of the 30 days from 30 April: half of two is one.
    daily = visits(Phase(135, full_every=1), monthly=TWO_A_MONTH)
    result = measured(daily, start=date(2026, 1, 31), days=28 + 31 + 30 + 15)
    assert charged(result)[:2] == [("A", "monthly", 3, "170.00"), ("A", "monthly", 1, "82.26")]  # 170 × 15 / 31
    assert result.lines[0].on == (date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31))
    assert result.lines[1].on == (date(2026, 4, 30),)
    assert charged(result)[2] == ("A", "full", 104 - 7, "85.00")


def test_beyond_the_month_the_list_price_and_its_breaks_hold_where_the_plan_states_none():
    plan = MonthlyPlan("two a month", D("170.00"), {"full": 2})
    services = {**SERVICES, Kind.FULL: Service(60, D("95.00"), (Break(3, D("90.00")),))}
    result = measured(visits(Phase(31, full_every=7, spots_per_day=1), monthly=plan), days=31, services=services)
    assert charged(result) == [
        ("A", "monthly", 1, "170.00"),
        ("A", "full", 3, "90.00"),
        ("A", "spot", 26, "45.00"),
    ]


def test_a_package_pays_what_the_plan_month_does_not():
    result = measured(visits(Phase(31, full_every=7), monthly=TWO_A_MONTH), days=31, packages={"One": (FOUR,)})
    assert charged(result) == [("A", "monthly", 1, "170.00"), ("One", "package", 1, "340.00")]
    assert result.notices == ('One: 3 of 4 sessions of the package "four" are used in these 31 days.',)


def test_a_schedule_that_is_moved_starts_later_and_ends_with_the_term():
    result = measured(visits(Phase(28, full_every=9), shift=2))
    assert [session.on.day for session in result.horses[0].days.ours] == [4, 13, 22]
    assert measured(visits(Phase(28, full_every=9), shift=1)).sessions == 3 + 1 - 1
    assert result.lines[0].what == What.FULL
    assert result.total == 3 * Decimal(95)


def test_more_that_cost_less_are_not_counted_where_a_package_pays_for_some():
    services = {Kind.FULL: Service(60, D("95.00"), (Break(11, D("10.00")),))}
    told = "cost less than"
    assert any(told in notice for notice in measured(visits(THIRD_DAY), services=services).notices)
    result = measured(visits(THIRD_DAY), services=services, packages={"One": (FOUR,)})
    assert not any(told in notice for notice in result.notices)
