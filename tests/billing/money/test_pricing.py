"""All-units quantity breaks."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.pricing import Break, Line, Service, What

D = Decimal
FULL = Service(60, D("95.00"), (Break(6, D("85.00")), Break(10, D("70.00"))))


@pytest.mark.parametrize(("count", "price"), [(1, 95), (5, 95), (6, 85), (9, 85), (10, 70), (99, 70)])
def test_from_a_number_on_all_cost_the_lower_price(count, price):
    assert FULL.price_for(count) == price


def test_a_larger_number_that_costs_less_is_found():
    service = Service(60, D("95.00"), (Break(6, D("70.00")),))
    cheaper = service.larger_costs_less(5, D("0.00"))
    assert (cheaper.count, cheaper.cost, cheaper.quoted, cheaper.quoted_cost) == (6, 420, 5, 475)


def test_the_call_out_of_each_visit_alone_counts():
    service = Service(60, D("95.00"), (Break(6, D("79.00")),))
    assert service.larger_costs_less(5, D("0.00")).count == 6
    assert service.larger_costs_less(5, D("30.00")) is None


def test_the_cheapest_larger_number_is_named():
    service = Service(60, D("100.00"), (Break(5, D("60.00")), Break(6, D("40.00"))))
    assert service.larger_costs_less(4, D("0.00")).count == 6


def test_no_sessions_have_no_cheaper_number():
    assert FULL.larger_costs_less(0, D("0.00")) is None


def test_a_line_is_its_charges():
    line = Line("A", "One", What.FULL, 3, D("95.00"))
    assert line.amount == sum(line.charges()) == D("285.00")


@given(st.integers(1, 200), st.integers(0, 10_000))
def test_the_total_never_falls_when_a_session_is_added_at_the_same_price(count, price):
    service = Service(60, D(price), (Break(10, D(price) / 2),))
    if service.price_for(count) == service.price_for(count + 1):
        assert (count + 1) * service.price_for(count + 1) >= count * service.price_for(count)
