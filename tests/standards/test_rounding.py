"""Rounding of money and tax against official examples."""

from decimal import Decimal

import pytest

from billing.money.rounding import round_money
from billing.money.tax import Rounding, Tax, apply_tax

D = Decimal


# EN 16931-1 BR-CO-17: category tax = base x rate / 100, two decimals. Bases and taxes of the official UBL examples.
@pytest.mark.parametrize(
    ("base", "rate", "tax"),
    [
        ("183.23", "6", "10.99"),  # ubl-tc434-example1
        ("46.37", "21", "9.74"),  # ubl-tc434-example1
        ("1460.50", "25", "365.13"),  # ubl-tc434-example2: 365.125, not half even
        ("1.00", "15", "0.15"),  # ubl-tc434-example2
        ("1500", "25", "375.00"),  # ubl-tc434-example5
        ("2500", "12", "300.00"),  # ubl-tc434-example5
        ("908.91", "21", "190.87"),  # ubl-tc434-example8
        ("625743.54", "25", "156435.89"),  # BIS3_Invoice_positive: 156435.885
        ("-625743.54", "25", "-156435.89"),  # BIS3_Invoice_negativ: the mirror
    ],
)
def test_category_tax_is_rounded_half_up(base, rate, tax):
    assert apply_tax([D(base)], Tax(D(rate)), "EUR").tax == D(tax)


# EN 16931-1, ubl-tc434-example1: 183.23 + 46.37 + 10.99 + 9.74 = 250.33 payable.
def test_the_first_official_example_adds_up_to_its_payable_amount():
    low = apply_tax([D("183.23")], Tax(D(6)), "EUR")
    high = apply_tax([D("46.37")], Tax(D(21)), "EUR")
    assert low.gross + high.gross == D("250.33")


# HMRC VATREC12030: round down below half a penny, up at half and above.
@pytest.mark.parametrize(("amount", "rounded"), [("1.0049", "1.00"), ("1.005", "1.01"), ("1.0051", "1.01")])
def test_half_a_penny_goes_up(amount, rounded):
    assert round_money(D(amount), "GBP") == D(rounded)


# SSUTA section 324 (R.I. Gen. Laws 44-18.1-25; N.D.C.C. 57-39.4-25): carry to the third decimal, up when above 4.
@pytest.mark.parametrize(("price", "rate", "tax"), [("10.70", "7", "0.75"), ("10.64", "7", "0.74")])
def test_the_third_decimal_above_four_goes_up(price, rate, tax):
    assert apply_tax([D(price)], Tax(D(rate)), "USD").tax == D(tax)


# SSUTA section 324: the seller elects to compute tax on an item or an invoice basis.
def test_item_and_invoice_basis_are_both_there():
    lines = [D("0.08")] * 3
    on_invoice = apply_tax(lines, Tax(D(7), Rounding.TOTAL), "USD").tax
    on_items = apply_tax(lines, Tax(D(7), Rounding.LINE), "USD").tax
    assert (on_invoice, on_items) == (D("0.02"), D("0.03"))
