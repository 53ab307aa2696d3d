"""Who pays which part of a drive."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.call_out import CallOut, Split, call_out_parts, most_it_can_cost

D = Decimal


def parts(split, owners, amount="30.00", currency="USD"):
    return [str(part) for part in call_out_parts(CallOut(D(amount), split), tuple(owners), currency)]


@pytest.mark.parametrize(
    ("split", "owners", "expected"),
    [
        (Split.NONE, ["One", "Two"], ["30.00", "30.00"]),
        (Split.HORSE, ["One"], ["30.00"]),
        (Split.HORSE, ["One", "Two", "Two"], ["10.00", "10.00", "10.00"]),
        (Split.OWNER, ["One", "Two", "Two"], ["15.00", "7.50", "7.50"]),
        (Split.OWNER, ["Two", "One", "Two"], ["7.50", "15.00", "7.50"]),
        (Split.HORSE, [], []),
    ],
)
def test_a_call_out_is_split_as_the_rule_says(split, owners, expected):
    assert parts(split, owners) == expected


def test_odd_cents_go_by_the_stated_order():
    assert parts(Split.HORSE, ["One", "Two", "Three"], "10.00") == ["3.34", "3.33", "3.33"]
    assert parts(Split.OWNER, ["One", "Two", "One", "Three"], "10.00") == ["1.67", "3.33", "1.67", "3.33"]
    assert parts(Split.HORSE, ["One", "Two", "Three"], "100", "JPY") == ["34", "33", "33"]


def test_the_most_it_can_cost_counts_only_the_owners_own_horses():
    call_out = CallOut(D("30.00"), Split.HORSE)
    assert most_it_can_cost(call_out, ("One", "Two", "One"), "USD") == (D("15.00"), D("30.00"), D("15.00"))


owners = st.lists(st.sampled_from(["One", "Two", "Three"]), min_size=1, max_size=9).map(tuple)
cents = st.integers(0, 100_000).map(lambda units: D(units).scaleb(-2))


@given(cents, owners, st.sampled_from([Split.HORSE, Split.OWNER]))
def test_the_parts_of_a_shared_stop_add_up(amount, some, split):
    assert sum(call_out_parts(CallOut(amount, split), some, "USD")) == amount


@given(cents, owners, st.sampled_from(Split), owners)
def test_company_at_a_stop_never_costs_an_owner_more(amount, mine, split, others):
    call_out = CallOut(amount, split)
    together = call_out_parts(call_out, mine + others, "USD")
    most = most_it_can_cost(call_out, mine, "USD")
    for owner in set(mine):
        pays = sum(part for part, name in zip(together, mine, strict=False) if name == owner)
        assert pays <= sum(part for part, name in zip(most, mine, strict=True) if name == owner)
