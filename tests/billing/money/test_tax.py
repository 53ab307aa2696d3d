"""Tax on top and included, on the total and line by line."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.tax import Rounding, Tax, apply_tax

D = Decimal


def taxed(amounts, rate, rounding=Rounding.TOTAL, included=False, currency="USD"):
    return apply_tax([D(amount) for amount in amounts], Tax(D(rate), rounding, included), currency)


def test_without_a_rate_nothing_is_added():
    result = taxed(["95.00", "30.00"], "0")
    assert (result.net, result.tax, result.gross) == (D("125.00"), D("0.00"), D("125.00"))
    assert result.nets == (D("95.00"), D("30.00"))


def test_on_the_total_and_by_line_may_differ_by_a_cent():
    lines = ["0.08", "0.08", "0.08"]
    assert taxed(lines, "7").tax == D("0.02")
    assert taxed(lines, "7", Rounding.LINE).tax == D("0.03")


def test_included_tax_leaves_what_is_paid():
    result = taxed(["95.00", "30.00"], "20", included=True)
    assert (result.net, result.tax, result.gross) == (D("104.17"), D("20.83"), D("125.00"))
    assert result.nets == (D("79.17"), D("25.00"))


def test_included_line_nets_add_up_by_largest_remainder():
    result = taxed(["10.00"] * 3, "21", included=True)
    assert result.net == D("24.79")
    assert result.nets == (D("8.27"), D("8.26"), D("8.26"))


def test_included_by_line_rounds_each_line():
    result = taxed(["10.00"] * 3, "21", Rounding.LINE, included=True)
    assert result.nets == (D("8.26"),) * 3
    assert result.tax == D("5.22")


def test_a_credit_mirrors_what_it_credits():
    for included in (False, True):
        for rounding in Rounding:
            plus = taxed(["10.01", "3.33"], "8.875", rounding, included)
            minus = taxed(["-10.01", "-3.33"], "8.875", rounding, included)
            assert (minus.net, minus.tax, minus.gross) == (-plus.net, -plus.tax, -plus.gross)
            assert minus.nets == tuple(-net for net in plus.nets)


def test_a_discount_line_lowers_the_base():
    result = taxed(["100.00", "-10.00"], "10", included=True)
    assert (result.net, sum(result.nets)) == (D("81.82"), D("81.82"))


def test_lines_that_cancel_out_have_no_tax():
    result = taxed(["10.00", "-10.00"], "20", included=True)
    assert (result.net, result.tax, sum(result.nets)) == (0, 0, 0)


@pytest.mark.parametrize(("currency", "tax"), [("JPY", "8"), ("KWD", "8.250"), ("USD", "8.25")])
def test_tax_has_the_decimals_of_its_currency(currency, tax):
    assert str(taxed(["110"], "7.5", currency=currency).tax) == tax


amounts = st.lists(st.integers(0, 100_000).map(lambda cents: D(cents).scaleb(-2)), max_size=20)
rates = st.integers(0, 10_000).map(lambda rate: D(rate).scaleb(-2))


@given(amounts, rates, st.sampled_from(Rounding), st.booleans())
def test_net_and_tax_add_up_to_what_is_paid(some, rate, rounding, included):
    result = apply_tax(some, Tax(rate, rounding, included), "USD")
    assert result.net + result.tax == result.gross
    assert sum(result.nets) == result.net
    assert len(result.nets) == len(some)
    assert result.tax >= 0
    if included:
        assert result.gross == sum(some)


def test_rounded_by_line_a_discount_of_everything_leaves_no_tax_below_zero():
    """Found by a search: 3.58 twice and 7.16 off, at 0.07 %, each line rounded by itself."""
    amounts = [Decimal("3.58"), Decimal("3.58"), Decimal("-7.16")]
    taxed = apply_tax(amounts, Tax(Decimal("0.07"), Rounding.LINE), "USD")
    assert (taxed.net, taxed.tax, taxed.gross) == (0, 0, 0)
