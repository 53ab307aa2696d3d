"""Prices of the database in the calculator's format."""

from decimal import Decimal

import pytest

from billing.prices.models import CallOutRule, HireRate
from billing.prices.rules import MoneyRules
from billing.quotes.quote_file import file_of
from tests.factories.clients import AnimalFactory, BarnFactory
from tests.factories.quotes import START, drafted

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(owner_manager):
    return drafted([AnimalFactory(barn=BarnFactory(lat=39.35, lon=-104.4))], owner_manager)


def test_bands_carry_the_distance_of_the_barn(quote):
    rule = CallOutRule.objects.get()
    CallOutRule.objects.update(way=CallOutRule.Way.BANDS, minimum=Decimal("25"))
    rule.bands.create(to=Decimal("10"), amount=Decimal("20"))
    rule.bands.create(amount=Decimal("60.50"))
    assert file_of(quote, on=START)["call_out"] == {
        "split": "horse",
        "bands": [{"to": "10", "amount": "20"}, {"amount": "60.5"}],
        "minimum": "25",
        "distance": "13.9",
    }


def test_free_nearby_then_by_distance(quote):
    CallOutRule.objects.update(way=CallOutRule.Way.FREE, free=Decimal("10"), per_unit=Decimal("1.50"))
    written = file_of(quote, on=START)["call_out"]
    assert written == {"split": "horse", "free": "10", "per_unit": "1.5", "distance": "13.9"}


def test_a_barn_without_a_place_has_no_distance(quote):
    CallOutRule.objects.update(way=CallOutRule.Way.FREE, free=Decimal("10"), per_unit=Decimal("1.50"))
    barn = quote.horses.get().animal.barn
    barn.lat = barn.lon = None
    barn.save()
    assert "distance" not in file_of(quote, on=START)["call_out"]


def test_collection_and_rounding_are_written_where_they_are_set(quote):
    plain = file_of(quote, on=START)
    assert "collection" not in plain["hire"]
    assert "rounding" not in plain["tax"]
    HireRate.objects.update(collection=Decimal("40"))
    MoneyRules.objects.create(tax_rounding="line", since=START)
    written = file_of(quote, on=START)
    assert (written["hire"]["collection"], written["tax"]["rounding"]) == ("40", "line")
