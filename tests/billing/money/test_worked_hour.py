from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from billing.money.worked_hour import Hours, per_hour, shares


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=12))
def test_shares_add_up_and_stand_as_their_weights(weights):
    found = shares(weights)
    assert sum(found) == 1
    assert all(part * sum(weights) == weight for part, weight in zip(found, weights, strict=True) if sum(weights))


@given(st.lists(st.integers(0, 500), min_size=1, max_size=6), st.integers(1, 600))
def test_the_parts_of_a_day_are_the_day(weights, minutes):
    day = Hours(hands_on=Fraction(minutes), driving=Fraction(minutes, 7), metres=Fraction(minutes * 1000, 3))
    again = sum((day.part(share) for share in shares(weights)), Hours())
    assert again == day


def test_an_hour_is_what_is_left_of_the_money_for_all_the_time():
    """Two hours hands-on, 45 minutes of driving and 15 around it bring (210 − 30) / 3."""
    hours = Hours(Fraction(120), Fraction(10), Fraction(45), Fraction(5))
    assert hours.minutes == 180
    assert per_hour(Decimal(210), Decimal(30), hours.minutes, "USD") == Decimal("60.00")
    assert per_hour(Decimal(0), Decimal(30), hours.minutes, "USD") == Decimal("-10.00")
    assert per_hour(Decimal(10), Decimal(0), Fraction(0), "USD") is None
