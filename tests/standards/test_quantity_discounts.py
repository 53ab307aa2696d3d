"""All-units quantity discounts and break-even against published examples."""

from decimal import Decimal
from math import isqrt

import pytest

from billing.money.hire import break_even
from billing.money.pricing import Break, Service

D = Decimal
# Nahmias, Production and Operations Analysis, the trash-bag example (values from memory; arithmetic checked here):
# demand 600 a year, ordering costs 8, holding 20 % a year; 0.30 each, from 500 on 0.29, from 1000 on 0.28, for all.
BAGS = Service(1, D("0.30"), (Break(500, D("0.29")), Break(1000, D("0.28"))))


def yearly_cost(quantity):
    price = BAGS.price_for(quantity)
    return 600 * price + D(600) * 8 / quantity + D("0.2") * price * quantity / 2


def test_all_units_prices_give_the_yearly_costs_of_the_example():
    best_at_list = isqrt(int(2 * 8 * 600 / D("0.06")))
    assert best_at_list == 400
    costs = [yearly_cost(best_at_list), yearly_cost(500), yearly_cost(1000)]
    assert [cost.quantize(D("0.01")) for cost in costs] == [D("204.00"), D("198.10"), D("200.80")]


def test_all_units_are_not_incremental():
    # The incremental reading of the same example costs 204.00, 204.58 and 208.81 a year (same source).
    assert yearly_cost(500).quantize(D("0.01")) != D("204.58")


def test_499_cost_more_than_500():
    assert 499 * BAGS.price_for(499) == D("149.70")
    assert 500 * BAGS.price_for(500) == D("145.00")
    cheaper = BAGS.larger_costs_less(499, D(0))
    assert (cheaper.count, cheaper.cost, cheaper.quoted_cost) == (500, D("145.00"), D("149.70"))


# Penn State, ACCTG 211 §7.2: fixed costs 20,000 at a margin of 400 - 250 break even at 133.33, so at 134 units.
@pytest.mark.parametrize(("fixed", "margin", "units"), [("20000", "150", 134)])
def test_a_part_of_a_unit_needs_a_whole_one(fixed, margin, units):
    assert break_even(Service(60, D(margin)), D(0), D(fixed)) == units
