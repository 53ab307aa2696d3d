import pytest
from django.db import transaction

from billing.numbers.actions import take_number

pytestmark = pytest.mark.django_db


def test_each_series_counts_from_one_by_itself():
    assert [take_number("invoice"), take_number("invoice"), take_number("payment")] == [1, 2, 1]


def take_and_fail() -> None:
    with transaction.atomic():
        take_number("invoice")
        raise RuntimeError("the paper was not made")


def test_a_number_that_was_not_used_is_taken_by_the_next():
    with pytest.raises(RuntimeError):
        take_and_fail()
    assert take_number("invoice") == 1
