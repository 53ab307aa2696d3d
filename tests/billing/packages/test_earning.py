from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.packages.earning import earned_by


@pytest.mark.parametrize(("used", "earned"), [(0, "0"), (1, "33.33"), (2, "66.67"), (3, "100.00"), (4, "100.00")])
def test_a_hundred_in_three_empties_with_the_last_use(used, earned):
    assert earned_by(Decimal("100.00"), used, 3, "USD") == Decimal(earned)


@given(st.integers(0, 10**9), st.integers(1, 500))
def test_uses_add_up_to_the_price_and_never_go_back(cents, sessions):
    net = Decimal(cents).scaleb(-2)
    steps = [earned_by(net, used, sessions, "USD") for used in range(sessions + 1)]
    assert steps == sorted(steps)
    assert (steps[0], steps[-1]) == (0, net)


@pytest.mark.parametrize(("currency", "net", "first"), [("JPY", "1000", "333"), ("KWD", "10.000", "3.333")])
def test_each_currency_in_its_own_decimals(currency, net, first):
    assert earned_by(Decimal(net), 1, 3, currency) == Decimal(first)


def test_nothing_in_it_is_nothing_earned():
    assert earned_by(Decimal("10.00"), 0, 0, "USD") == 0
