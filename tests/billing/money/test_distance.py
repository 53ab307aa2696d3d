"""Call-outs by distance: bands, and a free radius with a price beyond it (worked by hand, invented prices)."""

from decimal import Decimal

import pytest

from billing.money.distance import Band, amount_beyond_radius, amount_by_bands

D = Decimal
CLOSED = (Band(D("20.00"), D("10")), Band(D("35.00"), D("25")))
OPEN = (*CLOSED, Band(D("60.00")))


@pytest.mark.parametrize(
    ("bands", "distance", "amount"),
    [
        (OPEN, "0", "20.00"),
        (OPEN, "10", "20.00"),
        (OPEN, "10.001", "35.00"),
        (OPEN, "25", "35.00"),
        (OPEN, "25.1", "60.00"),
        (OPEN, "900", "60.00"),
        (CLOSED, "25", "35.00"),
    ],
)
def test_a_distance_equal_to_the_end_of_a_band_is_in_it(bands, distance, amount):
    assert amount_by_bands(bands, D(distance)) == D(amount)


def test_beyond_the_last_band_there_is_no_amount():
    assert amount_by_bands(CLOSED, D("25.1")) is None


@pytest.mark.parametrize(
    ("distance", "currency", "amount"),
    [
        ("8", "USD", "0.00"),
        ("10", "USD", "0.00"),
        ("18.4", "USD", "12.60"),  # 8.4 × 1.50
        ("10.01", "USD", "0.02"),  # 0.015, half up
        ("11", "JPY", "2"),  # 1.5, half up
        ("10.001", "KWD", "0.002"),  # 0.0015, half up
    ],
)
def test_beyond_the_free_radius_each_unit_costs(distance, currency, amount):
    assert str(amount_beyond_radius(D("10"), D("1.50"), D(distance), currency)) == amount
