"""Rent, follow-up visits and break-even."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.hire import HireRates, break_even, follow_up_days
from billing.money.pricing import Break, Service

D = Decimal
RATES = HireRates(day=D("60.00"), week=D("300.00"), training=D("120.00"), follow_up=D("95.00"))
START = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("days", "rent"),
    [(1, 60), (4, 240), (5, 300), (6, 300), (7, 300), (8, 360), (13, 600), (28, 1200), (30, 1320)],
)
def test_rent_is_whole_weeks_and_days_but_never_more_than_the_next_week(days, rent):
    assert RATES.rent(days) == rent


def test_a_hire_for_one_horse_counts_training_follow_ups_and_their_call_outs():
    assert RATES.alone(28, 2, D("30.00")) == D("1600.00")


@pytest.mark.parametrize(("days", "cost"), [(28, "1655.00"), (2, "575.00"), (1, "485.00")])
def test_collection_is_a_visit_with_a_call_out_and_on_a_hire_of_one_day_the_same_stop(days, cost):
    assert replace(RATES, collection=D("25.00")).alone(days, 2, D("30.00")) == D(cost)


@pytest.mark.parametrize(
    ("days", "count", "offsets"),
    [(28, 0, []), (28, 1, [14]), (28, 2, [9, 19]), (27, 1, [14]), (7, 3, [2, 4, 5]), (1, 1, [1])],
)
def test_follow_ups_are_spread_evenly_half_up(days, count, offsets):
    assert [(on - START).days for on in follow_up_days(START, days, count)] == offsets


@pytest.mark.parametrize(
    ("price", "breaks", "call_out", "hire", "count"),
    [
        ("95.00", [], "30.00", "1600.00", 13),
        ("45.00", [], "30.00", "1600.00", 22),
        ("95.00", [(6, "85.00")], "30.00", "1600.00", 14),
        ("100.00", [(10, "50.00")], "0.00", "500.00", 6),
        ("100.00", [(6, "50.00")], "0.00", "500.00", 11),
        ("0.00", [], "0.00", "500.00", None),
        ("100.00", [(4, "0.00")], "0.00", "500.00", None),
        ("100.00", [(9, "0.00")], "0.00", "500.00", 6),
        ("10.00", [], "0.00", "0.00", 1),
        ("100.00", [], "0.00", "500.00", 6),
    ],
)
def test_break_even_is_the_smallest_number_that_costs_more(price, breaks, call_out, hire, count):
    service = Service(60, D(price), tuple(Break(least, D(lower)) for least, lower in breaks))
    assert break_even(service, D(call_out), D(hire)) == count


money = st.integers(0, 100_000).map(lambda cents: D(cents).scaleb(-2))


@given(money, money, st.integers(1, 400))
def test_a_hire_never_costs_less_for_a_day_more(day, week, days):
    rates = HireRates(day=day, week=week, training=D(0), follow_up=D(0))
    assert rates.rent(days + 1) >= rates.rent(days)


@given(st.integers(1, 400), st.integers(0, 40))
def test_follow_ups_come_in_order_after_the_first_day(days, count):
    dates = follow_up_days(START, days, count)
    assert dates == sorted(dates)
    assert all(START <= on <= START + timedelta(days=days) for on in dates)


@given(money, money, money.filter(bool), st.integers(2, 30), st.integers(0, 100))
def test_break_even_agrees_with_trying_every_number(price, call_out, hire, least, percent):
    service = Service(60, price, (Break(least, price * percent / 100),))
    found = break_even(service, call_out, hire)
    tried = next((n for n in range(1, 200) if n * (service.price_for(n) + call_out) > hire), None)
    if tried is not None or (found is not None and found < 200):
        assert found == tried
