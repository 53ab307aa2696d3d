"""By hand: a stop is 50 minutes of driving, 40 miles at 0.70, 10 minutes of set-up and 10 at the desk."""

from dataclasses import replace
from fractions import Fraction

import pytest

from billing.money.monthly import MonthlyPlan
from billing.money.portion import Discount, Portion
from billing.money.pricing import Service
from billing.money.tax import Rounding, Tax
from billing.quotes.comparison import compare
from billing.quotes.earnings import Costs, earnings_of, price_to_meet_target
from clients.plans.cadence import Kind
from tests.billing.quotes.requests import WEEKLY, D, hire, option, request, visits

COSTS = Costs(
    drive_minutes=50,
    drive_miles=D("40"),
    setup_minutes=10,
    admin_minutes=10,
    per_mile=D("0.70"),
    hourly_target=D("65"),
)


def earned(*plans, costs=COSTS, **changes):
    (measures,) = compare(request(option("It", *plans), **changes)).options
    return earnings_of(measures, costs, "USD")


def test_four_visits_of_an_hour():
    found = earned(visits(WEEKLY))
    assert (found.drive_minutes, found.drive_miles, found.working_minutes) == (200, 160, 520)
    assert (found.vehicle, found.left) == (D("112.00"), D("388.00"))  # 500 - 4 × 40 × 0.70
    assert found.per_hour == D("44.77")  # 388 × 60 / 520 = 44.769…
    assert not found.meets_target


def test_the_target_is_met_at_the_cent():
    near = Costs(0, D(0), 0, 0, D(0), D("125.00"))
    assert earned(visits(WEEKLY), costs=near).meets_target


def test_two_horses_at_a_stop_share_its_drive():
    found = earned(visits(WEEKLY), visits(WEEKLY), owners=("One", "One"))
    assert (found.drive_minutes, found.working_minutes) == (200, 760)


def test_tax_is_not_earned():
    taxed = earned(visits(WEEKLY), tax=Tax(D("20"), Rounding.TOTAL, included=False))
    assert taxed.left == earned(visits(WEEKLY)).left


def test_a_hire_without_hands_on_time_counts_its_visits():
    found = earned(hire(WEEKLY))
    assert found.working_minutes == 3 * 70
    assert found.per_hour is not None


@pytest.mark.parametrize("costs", [Costs(0, D(0), 0, 0, D(0), D(65))])
def test_without_any_time_of_ours_there_is_no_figure(costs):
    assert earned(hire(WEEKLY), costs=costs).per_hour is None


def test_machine_and_card_are_costs_too():
    costs = replace(COSTS, machine_per_hour=D("3.00"), card_percent=D("2.5"), card_each=D("0.30"))
    found = earned(visits(WEEKLY), costs=costs)
    # Four hours of the machine; 2.5 % of 500.00 and four payments of 0.30.
    assert (found.machine, found.card) == (D("12.00"), D("13.70"))
    assert found.left == D("388.00") - D("25.70")


def test_the_owners_hours_wear_the_machine_too():
    assert earned(hire(WEEKLY), costs=replace(COSTS, machine_per_hour=D("3.00"))).machine == D("12.00")


def priced(*plans, costs=COSTS, discount=None, **changes):
    (measures,) = compare(request(option("It", *plans, discount=discount), **changes)).options
    return price_to_meet_target(measures, costs)


def test_the_price_that_would_meet_the_target():
    found = priced(visits(WEEKLY))
    # 65 × 520 / 60 = 563.33… for the time, 112.00 for the vehicle, less 120.00 of call-outs, over four full bodies.
    assert found.exact == Fraction(833, 6)
    assert found.price == D("138.84")  # 138.8333…


@pytest.mark.parametrize("target", ["20", "65", "125"])
@pytest.mark.parametrize("tax", [Tax(), Tax(D("20")), Tax(D("20"), included=True)])
@pytest.mark.parametrize("discount", [None, Portion(percent=D(10)), Portion(amount=D("25.00"))])
def test_at_that_price_the_target_is_met_and_a_cent_less_is_too_little(target, tax, discount):
    costs = replace(COSTS, hourly_target=D(target), card_percent=D("2"), card_each=D("0.30"))
    off = Discount(discount, "a friend") if discount else None
    found = priced(visits(WEEKLY), costs=costs, discount=off, tax=tax)
    for price, met in ((found.price, True), (found.price - D("0.05"), False)):
        services = {Kind.FULL: Service(60, price)}
        chosen = option("It", visits(WEEKLY), discount=off)
        (again,) = compare(request(chosen, services=services, tax=tax)).options
        left = earnings_of(again, costs, "USD").left
        assert (left + D("0.02") >= D(target) * 520 / 60) is met


def test_without_a_full_body_at_the_list_price_there_is_no_such_price():
    assert priced(hire(WEEKLY)) is None
    assert priced(visits(WEEKLY), costs=replace(COSTS, card_percent=D(100))) is None
    beyond = MonthlyPlan("one", D("90"), {"full": 1}, {"full": D("80")})
    assert priced(visits(WEEKLY, monthly=beyond)) is None
    assert priced(visits(WEEKLY, monthly=replace(beyond, beyond={}))) is not None


def test_a_target_that_other_prices_meet_already_needs_nothing():
    assert priced(visits(WEEKLY), costs=Costs(0, D(0), 0, 0, D(0), D(1))).price == 0
