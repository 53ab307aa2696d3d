"""Light to work by, beside a reference library, and what it does to windows, bookings and rounds."""

import math
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import ephem
import pytest
import time_machine
from django.utils import timezone

from clients.people.models import Barn
from clients.rounds.actions import plan_round
from clients.rounds.weeks import weeks_of
from clients.visits.clashes import minute_of
from clients.visits.daylight import MIDNIGHT_SUN, light_at
from clients.visits.hours import first_free_start, say_light, why_outside_hours, windows_on
from tests.factories.clients import BarnFactory, BarnWindowFactory
from tests.factories.rounds import booked_visit
from tests.factories.visits import MONDAY, VisitFactory

DENVER, LONDON, OSLO, AUCKLAND = (
    ZoneInfo(name) for name in ("America/Denver", "Europe/London", "Europe/Oslo", "Pacific/Auckland")
)
PLACES = [
    (39.5, -104.72, DENVER),
    (51.83, -2.2, LONDON),
    (59.91, 10.75, OSLO),
    (-36.85, 174.76, AUCKLAND),
]
# The first of each month, a leap day, both days on which clocks change in the US in 2026
DAYS = [date(2026, month, 1) for month in range(1, 13)] + [date(2028, 2, 29), date(2026, 3, 8), date(2026, 11, 1)]


def by_ephem(latitude, longitude, day, zone) -> tuple[datetime, datetime]:
    """Rise and set by PyEphem, as its manual says that the US Naval Observatory reckons: the upper edge at -0:34."""
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure, observer.horizon = str(latitude), str(longitude), 0, "-0:34"
    observer.date = datetime.combine(day, time(12), tzinfo=zone).astimezone(UTC).replace(tzinfo=None)
    rise, fall = observer.previous_rising(ephem.Sun()), observer.next_setting(ephem.Sun())
    return tuple(each.datetime().replace(tzinfo=UTC).astimezone(zone) for each in (rise, fall))


@pytest.mark.parametrize(("latitude", "longitude", "zone"), PLACES)
@pytest.mark.parametrize("day", DAYS)
def test_beside_pyephem_within_two_minutes(latitude, longitude, zone, day):
    light = light_at(latitude, longitude, day, zone)
    for ours, theirs in zip((light.sunrise, light.sunset), by_ephem(latitude, longitude, day, zone), strict=True):
        assert theirs.date() == day
        assert math.isclose(minute_of(ours), theirs.hour * 60 + theirs.minute + theirs.second / 60, abs_tol=2)


def test_greenwich_on_the_longest_day():
    # 4:43 and 21:21 by summer time, as almanacs print it; from memory
    light = light_at(51.48, 0.0, date(2026, 6, 21), LONDON)
    assert abs(minute_of(light.sunrise) - (4 * 60 + 43)) <= 1
    assert abs(minute_of(light.sunset) - (21 * 60 + 21)) <= 1


def test_beyond_the_polar_circle():
    assert light_at(69.65, 18.96, date(2026, 6, 21), OSLO) == MIDNIGHT_SUN
    assert light_at(69.65, 18.96, date(2026, 12, 21), OSLO) is None


# What it does


@pytest.fixture(autouse=True)
def _by_the_clock_of_the_business():
    with timezone.override(DENVER):
        yield


DARK = date(2026, 12, 21)  # 7:15 to 16:38 at this place


@pytest.fixture
def field(db) -> Barn:
    """A barn where the work is outdoors."""
    return BarnFactory(name="Larch", lat=39.5, lon=-104.7, outdoor_only=True)


def windows(barn, minutes=0, day=DARK):
    found = windows_on(barn, day, DENVER, minutes)
    return found if found is None else [(each.opens, each.closes) for each in found]


def test_outdoors_the_day_is_cut_to_the_light(field):
    assert windows(field) == [(time(7, 15), time(16, 38))]
    assert windows(field, minutes=60) == [(time(7, 15), time(15, 38))]
    assert windows(field, minutes=600) == []


def test_its_own_windows_are_cut_too(field):
    BarnWindowFactory(barn=field, opens=time(6), closes=time(9))
    BarnWindowFactory(barn=field, opens=time(15), closes=time(20))
    assert windows(field) == [(time(7, 15), time(9)), (time(15), time(16, 38))]
    field.windows.all().delete()
    BarnWindowFactory(barn=field, opens=time(17), closes=time(20))
    assert windows(field) == []
    assert windows(field, day=date(2026, 6, 21)) == [(time(17), time(20))]


@pytest.mark.parametrize("changed", [{"outdoor_only": False}, {"lat": None, "lon": None}])
def test_indoors_or_off_the_map_nothing_is_cut(field, changed):
    Barn.objects.filter(pk=field.pk).update(**changed)
    field.refresh_from_db()
    assert windows(field) is None
    assert say_light(field, DARK, DENVER) == ""


def test_a_booking_in_the_dark_asks_for_a_reason(business, field):
    visit = VisitFactory(booked=True, animal__barn=field, day=DARK, starts=time(16), minutes=60)
    said = why_outside_hours(visit)
    assert said.startswith("On Mon 21 Dec 2026 work at Larch starts from 7:15 to 15:38.")
    assert said.endswith("Work here is outdoors: light from 7:15 to 16:38.")
    visit.starts = time(15, 30)
    assert why_outside_hours(visit) == ""


def test_no_start_is_offered_in_the_dark(business, field, owner_manager):
    late = BarnWindowFactory(barn=field, opens=time(15, 30), closes=time(17))
    asked = {"day": DARK, "practitioner": owner_manager, "barn": field}
    assert first_free_start(**asked, minutes=60) == time(15, 30)
    assert first_free_start(**asked, minutes=90) is None
    late.delete()
    assert first_free_start(**asked, minutes=600) is None


def test_the_round_says_why_it_has_no_place_for_it(business, field, owner_manager, now, as_assistant):
    business.refresh_from_db()
    barn = BarnWindowFactory(barn=field, opens=time(17), closes=time(17, 20)).barn
    with time_machine.travel(now, tick=False):
        booked_visit(owner_manager, barn=barn, day=DARK, minutes=20)
        found = plan_round(day=DARK, practitioner=owner_manager, at=now, by=owner_manager)
        (left,) = found.unplaced
        assert left["reasons"][-1] == "Work here is outdoors: light from 7:15 to 16:38."
        barn.windows.all().delete()
        found = plan_round(day=DARK, practitioner=owner_manager, at=now, by=owner_manager)
        assert found.unplaced == []
        assert "light from 7:15" in as_assistant.get(found.get_absolute_url()).content.decode()


def test_the_planner_keeps_to_the_light(business, field, owner_manager):
    business.refresh_from_db()
    VisitFactory(animal__barn=field, practitioner=owner_manager, day=MONDAY)
    request = weeks_of(MONDAY, 2, [owner_manager], business).request
    (spans,) = {tuple(spans.items()) for spans in request.windows.values()}
    assert [day for day, _ in spans] == [0, 1]
    assert abs(spans[0][1][0].start - timedelta(hours=6, minutes=30).total_seconds()) < 600
