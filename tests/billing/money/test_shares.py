"""Parts that add up."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.shares import fit, largest_remainder, split_amount


@pytest.mark.parametrize(
    ("amount", "weights", "currency", "parts"),
    [
        ("30.00", [1, 1, 1], "USD", ["10.00", "10.00", "10.00"]),
        ("10.00", [1, 1, 1], "USD", ["3.34", "3.33", "3.33"]),
        ("-10.00", [1, 1, 1], "USD", ["-3.34", "-3.33", "-3.33"]),
        ("0.01", [50, 30, 20], "USD", ["0.01", "0.00", "0.00"]),
        ("95.05", [50, 30, 20], "USD", ["47.53", "28.51", "19.01"]),
        ("100", [1, 1, 1], "JPY", ["34", "33", "33"]),
        ("0.010", [1, 2], "KWD", ["0.003", "0.007"]),
        ("5.00", [0, 1], "USD", ["0.00", "5.00"]),
        ("5.00", [Fraction(1, 3), Fraction(2, 3)], "USD", ["1.67", "3.33"]),
        ("5.00", [Decimal("0.5"), Decimal("0.5")], "USD", ["2.50", "2.50"]),
    ],
)
def test_what_is_left_goes_to_the_largest_remainder_then_by_the_stated_order(amount, weights, currency, parts):
    assert [str(part) for part in split_amount(Decimal(amount), weights, currency)] == parts


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1]])
def test_shares_without_sense_are_refused(weights):
    with pytest.raises(ValueError, match="share"):
        largest_remainder(10, weights)


weights = st.lists(st.integers(0, 10_000), min_size=1, max_size=12).filter(any)


@given(st.integers(-(10**9), 10**9), weights)
def test_the_parts_add_up_stay_within_one_unit_and_mirror(units, some):
    parts = largest_remainder(units, some)
    assert sum(parts) == units
    assert all(abs(part - Fraction(units * weight, sum(some))) < 1 for part, weight in zip(parts, some, strict=True))
    assert largest_remainder(-units, some) == [-part for part in parts]


@given(st.lists(st.fractions(-1000, 1000, max_denominator=60), min_size=1, max_size=9))
def test_fitting_quotas_of_both_signs_adds_up(quotas):
    whole = round(sum(quotas))
    parts = fit(quotas, whole)
    if whole >= sum(quota.numerator // quota.denominator for quota in quotas):
        assert sum(parts) == whole
