"""A closed month takes no posting; what follows from a booking lands in the open one."""

from datetime import date
from decimal import Decimal

import pytest

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from billing.journal.actions import close_month, open_day, post
from billing.journal.models import Account, ClosedMonth, Transaction
from tests.factories.backoffice import UserFactory
from tests.factories.billing import AT

pytestmark = pytest.mark.django_db
TODAY = date(2026, 4, 2)


@pytest.fixture
def close(owner_manager):
    return lambda month: close_month(month=month, today=TODAY, at=AT, by=owner_manager)


def book(day: date) -> None:
    source = UserFactory()
    post(
        day=day, text="x", source=source, entries=[(Account.CASH, Decimal(5), None), (Account.TIPS, Decimal(-5), None)]
    )


def test_nothing_is_booked_in_it_or_before(close):
    closed = close(date(2026, 3, 17))
    assert [entry.action for entry in trail_of(closed)] == ["month closed"]
    for day in (date(2026, 3, 31), date(2026, 3, 1), date(2025, 12, 31)):
        with pytest.raises(Refused, match=r"is closed. Book it on 1 Apr 2026 or later."):
            book(day)
    book(date(2026, 4, 1))
    assert Transaction.objects.count() == 1


def test_what_follows_from_a_booking_lands_in_the_open_month(close):
    assert open_day(date(2026, 3, 5)) == date(2026, 3, 5)
    close(date(2026, 3, 1))
    assert open_day(date(2026, 3, 5)) == date(2026, 4, 1)
    assert open_day(date(2026, 4, 5)) == date(2026, 4, 5)


def test_a_month_is_closed_once_and_when_it_is_over(close):
    close(date(2026, 2, 1))
    with pytest.raises(Refused, match="is closed"):
        close(date(2026, 1, 1))
    with pytest.raises(Refused, match="April 2026 is not over yet"):
        close(date(2026, 4, 1))
    assert ClosedMonth.objects.count() == 1


def test_the_end_of_a_year(close):
    close(date(2025, 12, 1))
    assert open_day(date(2025, 12, 31)) == date(2026, 1, 1)
