from datetime import date
from decimal import Decimal

import pytest

from billing.prices.rules import CostRates
from billing.quotes.costs import costs_of, earnings_by_option
from billing.quotes.queries import comparison_of
from tests.factories.clients import AnimalFactory, BarnFactory
from tests.factories.quotes import START, drafted, owned

pytestmark = pytest.mark.django_db


@pytest.fixture
def barn(business):
    return BarnFactory()


@pytest.fixture
def rates(db):
    return CostRates.objects.create(
        vehicle_per_mile=Decimal("0.70"), admin_minutes_per_visit=10, hourly_target=65, since=date(2026, 1, 1)
    )


def test_a_stop_is_driven_there_and_back_from_the_base(barn, rates):
    costs = costs_of(barn, on=START)
    # Straight line of about 11.7 miles (39.35 N 104.60 W to 39.50 N 104.72 W), times 1.3 for the roads, there and back.
    assert 28 < costs.drive_miles < 34
    assert 35 < costs.drive_minutes < 70
    assert (costs.admin_minutes, costs.per_mile, costs.hourly_target) == (10, Decimal("0.70"), 65)


def test_what_a_barn_takes_longer_counts_each_time(barn, rates):
    plain = costs_of(barn, on=START)
    barn.extra_minutes = 15
    assert costs_of(barn, on=START).drive_minutes > plain.drive_minutes
    assert costs_of(barn, on=START).drive_miles == plain.drive_miles


def test_rates_of_the_day_count(barn, rates):
    CostRates.objects.create(vehicle_per_mile=Decimal("0.90"), since=date(2026, 6, 1))
    assert costs_of(barn, on=date(2026, 5, 31)).per_mile == Decimal("0.70")
    assert costs_of(barn, on=date(2026, 6, 1)).per_mile == Decimal("0.90")


def test_without_rates_base_or_place_nothing_is_guessed(business, barn):
    assert costs_of(barn, on=START) is None
    CostRates.objects.create(since=date(2026, 1, 1))
    assert costs_of(BarnFactory(lat=None, lon=None), on=START) is None
    assert costs_of(barn, on=START) is not None
    business.base_lat = business.base_lon = None
    business.save()
    assert costs_of(barn, on=START) is None


def test_each_option_has_a_row_and_a_quote_without_prices_has_none(business, rates, owner_manager):
    horse = AnimalFactory()
    owned(horse)
    quote = drafted([horse], owner_manager)
    shown = comparison_of(quote, on=START)
    assert [row.name for row in earnings_by_option(shown, horse.barn, on=START)] == [
        option.name for option in quote.options.all()
    ]
    quote.price_list.prices.all().delete()
    assert earnings_by_option(comparison_of(quote, on=START), horse.barn, on=START) is None
