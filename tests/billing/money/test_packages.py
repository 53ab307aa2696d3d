"""Which sessions a prepaid package pays."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.money.packages import Package, use_up

D = Decimal
SOLD = date(2026, 3, 2)
TEN = Package("ten", D("850.00"), {"full": 10}, days=180)


def sessions(service, *offsets):
    return [(SOLD + timedelta(days=offset), service) for offset in offsets]


def test_the_eleventh_session_of_ten_is_not_paid_by_it():
    assert use_up([TEN], sessions("full", *range(11)), SOLD) == [0] * 10 + [None]


@pytest.mark.parametrize(("offset", "paid"), [(0, 0), (179, 0), (180, None)])
def test_a_package_ends_after_its_days(offset, paid):
    assert use_up([TEN], sessions("full", offset), SOLD) == [paid]


def test_another_service_is_not_paid_by_it():
    assert use_up([TEN], sessions("spot", 1), SOLD) == [None]


def test_the_package_stated_first_is_used_first_and_then_the_next():
    short = Package("three", D("270.00"), {"full": 3, "spot": 1}, days=8)
    days = [*sessions("full", 0, 7), *sessions("spot", 7), *sessions("full", 8)]
    assert use_up([short, TEN], days, SOLD) == [0, 0, 0, 1]
    assert use_up([TEN, short], days, SOLD) == [0, 0, 1, 0]
