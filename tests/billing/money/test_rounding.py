"""Half up in whole minor units of the currency."""

from decimal import Decimal
from fractions import Fraction

import pytest
from babel.core import get_global
from hypothesis import given
from hypothesis import strategies as st

from billing.money.rounding import CURRENCIES, MINOR_DIGITS, from_units, minor_digits, round_money, to_units


@pytest.mark.parametrize(
    ("amount", "currency", "expected"),
    [
        ("1.005", "USD", "1.01"),
        ("1.004999", "USD", "1.00"),
        ("-1.005", "USD", "-1.01"),
        ("0.5", "JPY", "1"),
        ("1234.49", "JPY", "1234"),
        ("0.0005", "KWD", "0.001"),
        ("10", "KWD", "10.000"),
        ("7", "EUR", "7.00"),
    ],
)
def test_half_goes_up_and_the_decimals_are_those_of_the_currency(amount, currency, expected):
    assert str(round_money(Decimal(amount), currency)) == expected
    assert str(round_money(Fraction(amount), currency)) == expected


def test_a_third_is_rounded_exactly():
    assert round_money(Fraction(10, 3), "USD") == Decimal("3.33")
    assert round_money(Fraction(-20, 3), "USD") == Decimal("-6.67")


def test_an_unknown_currency_is_refused():
    with pytest.raises(ValueError, match="ISO 4217"):
        minor_digits("XYZ")


def test_an_amount_that_is_not_whole_has_no_units():
    with pytest.raises(ValueError, match="not a whole amount"):
        to_units(Decimal("1.005"), "USD")


def test_every_code_is_known_elsewhere_and_its_decimals_agree_where_cash_does_not_matter():
    known = get_global("all_currencies")
    assert set(known) >= CURRENCIES - {"VED", "XCG", "ZWG"}
    assert set(MINOR_DIGITS) <= CURRENCIES
    assert [minor_digits(code) for code in ("JPY", "KWD", "USD", "CLF")] == [0, 3, 2, 4]


@given(st.fractions(-10_000, 10_000), st.sampled_from(["USD", "JPY", "KWD"]))
def test_rounding_moves_by_at_most_half_a_unit_and_mirrors(amount, currency):
    rounded = round_money(amount, currency)
    assert abs(Fraction(rounded) - amount) <= Fraction(1, 2 * 10 ** minor_digits(currency))
    assert round_money(-amount, currency) == -rounded


@given(st.integers(-(10**12), 10**12), st.sampled_from(["USD", "JPY", "KWD"]))
def test_units_and_amounts_agree(units, currency):
    assert to_units(from_units(units, currency), currency) == units
