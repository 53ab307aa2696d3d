"""Months of a plan: counted from the first day, a part month by days (worked by hand)."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.monthly import Month, MonthlyPlan, month_after, plan_months

D = Decimal
PLAN = MonthlyPlan("two a month", D("170.00"), {"full": 2, "spot": 1})


def test_months_run_to_the_same_day_or_the_last_one_counted_from_the_first_start():
    months = plan_months(date(2026, 1, 31), 120)
    assert [(month.first, month.days, month.whole) for month in months] == [
        (date(2026, 1, 31), 28, 28),
        (date(2026, 2, 28), 31, 31),
        (date(2026, 3, 31), 30, 30),
        (date(2026, 4, 30), 31, 31),
    ]


def test_a_leap_year_keeps_its_29th_and_december_goes_on_to_january():
    assert month_after(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert month_after(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert month_after(date(2026, 12, 15), 1) == date(2027, 1, 15)


@pytest.mark.parametrize(("days", "parts"), [(30, [(30, 31)]), (31, [(31, 31)]), (32, [(31, 31), (1, 30)])])
def test_the_month_at_the_terms_end_is_a_part_unless_the_term_ends_with_it(days, parts):
    assert [(month.days, month.whole) for month in plan_months(date(2026, 3, 2), days)] == parts


@pytest.mark.parametrize(
    ("days", "whole", "price", "full", "spot"),
    [
        (31, 31, "170.00", 2, 1),
        (14, 31, "76.77", 1, 0),  # 76.774…; 0.903 of 2; 0.45 of 1
        (15, 30, "85.00", 1, 1),  # half of 1 is half up
        (7, 28, "42.50", 1, 0),  # 0.5 of 2 is half up
        (1, 30, "5.67", 0, 0),
    ],
)
def test_a_part_month_costs_and_holds_its_part_half_up(days, whole, price, full, spot):
    month = Month(date(2026, 3, 2), days, whole)
    assert PLAN.price_of(month, "USD") == D(price)
    assert (PLAN.included("full", month), PLAN.included("spot", month)) == (full, spot)


def test_a_service_that_the_plan_does_not_name_is_not_included():
    assert PLAN.included("massage", plan_months(date(2026, 3, 2), 31)[0]) == 0


@given(st.dates(date(1900, 1, 1), date(2190, 1, 1)), st.integers(1, 800))
def test_months_follow_each_other_and_fill_the_term(start, days):
    months = plan_months(start, days)
    assert sum(month.days for month in months) == days
    assert all(before.end == after.first for before, after in pairwise(months))
    assert all(month.days == month.whole for month in months[:-1])
    assert months[-1].end == start + timedelta(days=days)
