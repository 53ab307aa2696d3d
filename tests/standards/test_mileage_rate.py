"""A price for each mile against published mileage amounts."""

from decimal import Decimal

import pytest

from billing.money.distance import amount_beyond_radius

D = Decimal


# Source: HMRC Employment Income Manual EIM31350 and EIM31355: 45p a mile up to 10,000 miles.
@pytest.mark.parametrize(("miles", "pounds"), [("5000", "2250.00"), ("860", "387.00"), ("10000", "4500.00")])
def test_forty_five_pence_a_mile(miles, pounds):
    assert amount_beyond_radius(D(0), D("0.45"), D(miles), "GBP") == D(pounds)


# The same source: 12,000 miles are 10,000 at 45p and 2,000 at 25p: £5,000. A radius at one price, beyond it another.
def test_beyond_a_radius_another_price_holds():
    within = amount_beyond_radius(D(0), D("0.45"), D(10000), "GBP")
    assert within + amount_beyond_radius(D(10000), D("0.25"), D(12000), "GBP") == D("5000.00")
