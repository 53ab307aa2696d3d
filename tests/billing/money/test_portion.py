"""A percentage or an amount of a sum."""

from decimal import Decimal

import pytest

from billing.money.portion import Portion

D = Decimal


@pytest.mark.parametrize(
    ("portion", "whole", "part"),
    [
        (Portion(percent=D(10)), "100.00", "10.00"),
        (Portion(percent=D("12.5")), "0.20", "0.03"),  # 0.025, half up
        (Portion(percent=D("12.5")), "0.19", "0.02"),  # 0.02375
        (Portion(percent=D(100)), "99.99", "99.99"),
        (Portion(amount=D("50.00")), "50.01", "50.00"),
        (Portion(amount=D("50.00")), "49.99", "49.99"),
        (Portion(amount=D("50.00")), "0.00", "0.00"),
    ],
)
def test_a_part_is_rounded_half_up_and_never_more_than_the_whole(portion, whole, part):
    assert portion.of(D(whole), "USD") == D(part)


@pytest.mark.parametrize("values", [{}, {"percent": D(10), "amount": D(10)}])
def test_a_part_is_one_of_the_two(values):
    with pytest.raises(ValueError, match="a percentage or an amount"):
        Portion(**values)
