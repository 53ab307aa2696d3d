from decimal import Decimal

import pytest

from backoffice.business.models import Business
from billing.prices.distance import distance_to, say_distance
from clients.people.models import Barn

BASE = {"base_lat": 39.0, "base_lon": -105.0, "circuity": Decimal("1.3")}


@pytest.mark.parametrize(("unit", "away"), [("mi", "89.7"), ("km", "144.3")])
def test_one_way_by_road_in_the_unit_of_the_business(unit, away):
    # one degree of latitude at 39° to 40° N is 111.03 km on the WGS84 ellipsoid (meridian arc; value from memory)
    barn = Barn(lat=40.0, lon=-105.0, extra_minutes=30)
    found = distance_to(barn, Business(distance_unit=unit, **BASE))
    assert abs(found - Decimal(away)) <= Decimal("0.1")
    assert found.as_tuple().exponent == -1


def test_without_a_place_there_is_no_distance():
    assert distance_to(Barn(), Business(**BASE)) is None
    assert distance_to(Barn(lat=40.0, lon=-105.0), Business()) is None


def test_the_rule_page_says_what_is_counted():
    assert "one way in kilometers, from your base" in say_distance(Business(distance_unit="km", **BASE))
