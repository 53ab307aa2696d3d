"""By hand: a stop is 50 minutes of driving, 40 miles at 0.70, 10 minutes of set-up and 10 at the desk."""

import pytest

from billing.money.tax import Rounding
from billing.quotes.comparison import compare
from billing.quotes.earnings import Costs, earnings_of
from billing.quotes.request import Tax
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
