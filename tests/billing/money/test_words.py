from decimal import Decimal

import pytest

from billing.money.words import ordinal, say_amount


@pytest.mark.parametrize(
    ("amount", "currency", "said"),
    [("1250", "USD", "$1,250.00"), ("0.005", "GBP", "£0.01"), ("1250.5", "JPY", "¥1,251"), ("-3.5", "EUR", "-€3.50")],
)
def test_an_amount_has_the_sign_and_the_decimals_of_its_currency(amount, currency, said):
    assert say_amount(Decimal(amount), currency) == said


def test_a_place_in_a_row():
    assert [ordinal(number) for number in (1, 3, 11, 21, 22)] == ["first", "third", "11th", "21st", "22nd"]
