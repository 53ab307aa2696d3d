"""Mileage over a year against published rates: HMRC's two bands, the IRS's by year."""

from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.mileage import Leg, Rate, amounts

D = Decimal
# HMRC Employment Income Manual EIM31350 and EIM31355: 45p for the first 10,000 miles of a tax year, 25p beyond.
HMRC = Rate(date(2011, 4, 6), D("0.45"), D(10_000), D("0.25"), year_month=4, year_day=6)
# IRS Notices 2024-08, 2025-5 and 2026-10: the business rate for a mile driven in each year.
IRS = [Rate(date(year, 1, 1), D(rate)) for year, rate in ((2024, "0.67"), (2025, "0.70"), (2026, "0.725"))]


def total(legs, rates, currency) -> Decimal:
    return sum(amounts(legs, rates, currency), D(0))


@pytest.mark.parametrize(("miles", "pounds"), [(5000, "2250.00"), (12_000, "5000.00"), (860, "387.00")])
@pytest.mark.parametrize("trips", [1, 10])
def test_the_approved_amounts_of_hmrc(miles, pounds, trips):
    legs = [Leg(date(2026, 5, day), D(miles) / trips) for day in range(1, trips + 1)]
    assert total(legs, [HMRC], "GBP") == D(pounds)


def test_the_bands_begin_again_on_the_sixth_of_april():
    """The tax year of the United Kingdom begins on 6 April (Income Tax Act 2007, section 4)."""
    legs = [Leg(date(2026, 4, 5), D(12_000)), Leg(date(2026, 4, 6), D(100))]
    assert list(amounts(legs, [HMRC], "GBP")) == [D("5000.00"), D("45.00")]


@pytest.mark.parametrize(("year", "dollars"), [(2024, "67.00"), (2025, "70.00"), (2026, "72.50")])
def test_a_hundred_miles_at_the_rate_of_the_irs_for_the_year(year, dollars):
    assert total([Leg(date(year, 12, 31), D(100))], IRS, "USD") == D(dollars)


def test_the_rate_of_the_day_counts_over_the_turn_of_the_year():
    legs = [Leg(date(2025, 12, 31), D(10)), Leg(date(2026, 1, 1), D(10))]
    assert list(amounts(legs, IRS, "USD")) == [D("7.00"), D("7.25")]


def test_before_the_first_rate_nothing_is_known():
    assert list(amounts([Leg(date(2023, 12, 31), D(10))], IRS, "USD")) == [None]


@given(st.lists(st.decimals(0, 400, places=1), min_size=1, max_size=60))
def test_the_parts_add_up_to_the_whole_however_it_is_cut(distances):
    legs = [Leg(date(2026, 5, 1), distance) for distance in distances]
    whole = [Leg(date(2026, 5, 1), sum(distances, D(0)))]
    assert total(legs, [HMRC], "GBP") == total(whole, [HMRC], "GBP")
    assert all(part >= 0 for part in amounts(legs, [HMRC], "GBP"))


def test_the_year_of_a_day():
    assert [HMRC.year_of(day) for day in (date(2026, 4, 5), date(2026, 4, 6), date(2027, 1, 1))] == [
        date(2025, 4, 6),
        date(2026, 4, 6),
        date(2026, 4, 6),
    ]
    assert all(earlier < later for earlier, later in pairwise([IRS[0].year_of(date(2024, 12, 31)), date(2025, 1, 1)]))


def test_each_driver_has_the_limit_and_what_was_driven_before_counts_toward_it():
    """The 10,000 miles are an employee's or a trader's own, in their tax year (EIM31350)."""
    day = date(2026, 5, 1)
    legs = [Leg(day, D(9_000), driver=1), Leg(day, D(2_000), driver=2), Leg(day, D(2_000), driver=1)]
    assert total(legs, [HMRC], "GBP") == D(10_000 + 2_000) * D("0.45") + D(1_000) * D("0.25")
    before = [Leg(day, D(9_500), driver=1), Leg(date(2026, 4, 5), D(9_000), driver=2)]
    assert list(amounts([Leg(day, D(1_000), 1), Leg(day, D(1_000), 2)], [HMRC], "GBP", before)) == [D(350), D(450)]
    assert list(amounts([Leg(day, D(1))], [HMRC], "GBP", [Leg(date(1990, 1, 1), D(1))])) == [D("0.45")]
