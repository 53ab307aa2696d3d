"""What is taken off, for each owner."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.call_out import CallOut
from billing.money.portion import Discount, Portion
from billing.money.pricing import Service
from billing.money.rounding import minor_digits
from billing.money.tax import Tax
from billing.quotes.comparison import compare
from billing.quotes.request import OtherStop
from clients.plans.cadence import Kind
from tests.billing.quotes.requests import MONTHLY, START, WEEKLY, D, option, request, visits


def measured(discount, *plans, **changes):
    chosen = option("one", *plans, discount=Discount(discount, "two horses"))
    return compare(request(chosen, **{"owners": ("One", "Two", "Two"), **changes})).options[0]


def off(result):
    return [(line.owner, str(line.amount), line.name) for line in result.lines if line.what == "discount"]


def test_a_percentage_is_taken_of_each_owners_money_half_up():
    plans = [visits(WEEKLY), visits(MONTHLY), visits(MONTHLY)]
    result = measured(Portion(percent=D("12.5")), *plans, call_out=CallOut(D("10.00")))
    # 12.5 % of 420.00 and of 210.00 (26.25).
    assert off(result) == [("One", "-52.50", "two horses"), ("Two", "-26.25", "two horses")]
    assert [str(horse.money.discount) for horse in result.horses] == ["-52.50", "-13.13", "-13.12"]
    assert [str(horse.money.total) for horse in result.horses] == ["367.50", "91.87", "91.88"]


def test_an_amount_is_divided_over_the_owners_money():
    result = measured(Portion(amount=D("50.00")), *[visits(MONTHLY)] * 3)
    # 105.00 and 210.00: 50.00 is 16.67 and 33.33.
    assert off(result) == [("One", "-16.67", "two horses"), ("Two", "-33.33", "two horses")]


@pytest.mark.parametrize("portion", [Portion(amount=D("9000")), Portion(percent=D(100))])
def test_nobody_pays_less_than_nothing(portion):
    result = measured(portion, visits(MONTHLY), owners=("One",), tax=Tax(D("7")))
    assert (result.total, result.payments) == (D("0.00"), ())


def test_nothing_taken_off_is_no_line():
    assert off(measured(Portion(percent=D(0)), visits(MONTHLY), owners=("One",))) == []


def test_tax_is_on_what_is_left():
    result = measured(Portion(amount=D("25.00")), visits(MONTHLY), owners=("One",), tax=Tax(D(10)))
    assert (result.owners[0].net, result.owners[0].tax, result.total) == (D("100.00"), D("10.00"), D("110.00"))


def test_an_owners_part_of_an_amount_is_the_same_whoever_comes():
    result = measured(Portion(amount=D("50.00")), visits(MONTHLY), visits(MONTHLY), owners=("One", "Two"))
    assert [(owner.total, owner.at_most) for owner in result.owners] == [(D("85.00"), D("100.00"))] * 2


def test_an_amount_is_divided_by_the_money_alone_even_where_another_basis_would_weigh_otherwise():
    result = measured(Portion(amount=D("50.00")), *[visits(MONTHLY)] * 3)
    # At most 125.00 and 220.00, less the same 16.67 and 33.33.
    assert [owner.at_most for owner in result.owners] == [D("108.33"), D("186.67")]


def test_an_amount_takes_no_more_than_what_is_left_as_booked():
    free = {Kind.FULL: Service(60, D("0.00"))}
    diary = (OtherStop(START, "Three", 2),)
    result = measured(Portion(amount=D("25.00")), visits(MONTHLY), owners=("One",), services=free, others=diary)
    # The call-out of 30.00 alone is 10.00 as booked.
    assert (result.total, result.total_as_booked) == (D("5.00"), D("0.00"))


@given(
    charges=st.lists(st.decimals(0, 500, places=2), max_size=12),
    percent=st.decimals(0, 100, places=2),
    currency=st.sampled_from(["USD", "KWD"]),
)
def test_charges_discounted_one_by_one_never_ask_for_more_than_all_at_once(charges, percent, currency):
    portion = Portion(percent=percent)
    off = [portion.of_each(charge, currency) for charge in charges]
    assert all(0 <= each <= charge for each, charge in zip(off, charges, strict=True))
    least = portion.of(sum(charges, D(0)), currency)
    unit = D(1).scaleb(-minor_digits(currency))
    assert least <= sum(off, D(0)) <= least + unit * (len(charges) + 1)


def test_an_amount_is_no_part_of_a_charge():
    assert Portion(amount=D("50.00")).of_each(D("95.00"), "USD") == 0
