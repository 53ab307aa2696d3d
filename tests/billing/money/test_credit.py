from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from billing.money.credit import part_of

CENTS = st.integers(1, 10_000_00).map(lambda units: Decimal(units).scaleb(-2))


def test_a_third_and_then_the_rest_of_seven_cents():
    first = part_of(Decimal("0.07"), Decimal(3), before=Decimal(0), now=Decimal(1), currency="USD")
    rest = part_of(Decimal("0.07"), Decimal(3), before=Decimal(1), now=Decimal(2), currency="USD")
    assert (first, rest) == (Decimal("0.02"), Decimal("0.05"))


def test_nothing_goes_with_a_base_of_nothing():
    assert part_of(Decimal(7), Decimal(0), before=Decimal(0), now=Decimal(0), currency="USD") == 0


@given(whole=CENTS, parts=st.lists(CENTS, min_size=1, max_size=8))
def test_the_parts_are_the_whole_in_whatever_steps_it_goes(whole, parts):
    base, before, given_back = sum(parts, Decimal(0)), Decimal(0), []
    for now in parts:
        given_back.append(part_of(whole, base, before=before, now=now, currency="USD"))
        before += now
    assert sum(given_back) == whole
    assert min(given_back) >= 0
