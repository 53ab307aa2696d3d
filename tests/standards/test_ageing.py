"""Ageing of what is open: current, 1 to 30, 31 to 60, 61 to 90, over 90 days past due (bookkeepers' convention)."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.payments.statement import Ages, aged

ON = date(2026, 3, 31)


@pytest.mark.parametrize(
    ("late", "bucket"),
    [
        (-10, "current"),
        (0, "current"),
        (1, "to_30"),
        (30, "to_30"),
        (31, "to_60"),
        (60, "to_60"),
        (61, "to_90"),
        (90, "to_90"),
        (91, "older"),
    ],
)
def test_an_invoice_stands_in_the_column_of_its_days_past_due(late, bucket):
    assert aged([(ON - timedelta(days=late), Decimal("7.00"))], ON) == Ages(**{bucket: Decimal("7.00")})


def test_the_columns_sum_to_what_is_open():
    ages = aged([(ON - timedelta(days=late), Decimal(late + 1)) for late in range(120)], ON)
    assert ages.total == sum(range(1, 121))
