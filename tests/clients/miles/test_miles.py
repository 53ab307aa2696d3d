"""The mileage log: driven days come in by themselves, a correction leaves the original readable."""

from datetime import date, time, timedelta
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from backoffice.refusal import Refused
from clients.miles.actions import correct_trip, log_driven_days, write_trip
from clients.miles.models import Trip
from clients.miles.queries import driven_not_logged, history_of, trips
from tests.factories.clients import BarnFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import near_barn
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db
SUNDAY = MONDAY - timedelta(days=1)
LIST_QUERIES = 8


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


def worked(driver, barn, starts=9, day=SUNDAY, **fields):
    return VisitFactory(
        completed=True, practitioner=driver, animal=ready_animal(barn=barn), day=day, starts=time(starts), **fields
    )


def written(driver, now, **fields) -> Trip:
    facts = {"day": SUNDAY, "driver": driver, "places": "Home, feed store, home", "purpose": "Hay", "metres": 16093}
    return write_trip(trip=Trip(**{**facts, **fields}), at=now, by=driver)


def correct(trip, now, by, metres=20_000, why="Odometer read"):
    facts = {"places": trip.places, "purpose": trip.purpose, "measured": "odometer"}
    return correct_trip(trip=trip, metres=metres, why=why, **facts, at=now, by=by)


# By itself


def test_a_finished_day_becomes_a_trip_along_its_barns(owner_manager, now):
    near, far = near_barn(name="Copper Hasp"), near_barn(name="Old Cistern", lat=39.6)
    worked(owner_manager, far, 13)
    worked(owner_manager, near, 9)
    worked(owner_manager, near, 10)
    (trip,) = log_driven_days(at=now)
    assert (trip.day, trip.driver, trip.places) == (SUNDAY, owner_manager, "Base, Copper Hasp, Old Cistern, base")
    assert (trip.purpose, trip.measured) == ("Sessions with 3 horses", Trip.Measure.ESTIMATE)
    assert 50_000 < trip.metres < 100_000


def test_each_day_and_driver_is_logged_once(owner_manager, assistant, now):
    for driver in (owner_manager, assistant):
        worked(driver, near_barn())
    assert len(log_driven_days(at=now)) == 2
    assert log_driven_days(at=now) == []


def test_today_and_what_was_not_driven_are_not_logged(owner_manager, now):
    worked(owner_manager, near_barn(), day=MONDAY)
    VisitFactory(booked=True, practitioner=owner_manager, day=SUNDAY)
    VisitFactory(status="cancelled", practitioner=owner_manager, day=SUNDAY)
    assert driven_not_logged(MONDAY) == []
    assert log_driven_days(at=now) == []


def test_a_visit_that_could_not_be_worked_was_driven_to_all_the_same(owner_manager, now):
    worked(owner_manager, near_barn(), status="could_not_work")
    assert len(log_driven_days(at=now)) == 1


def test_a_barn_off_the_map_leaves_the_day_to_be_written_by_hand(as_assistant, assistant, now):
    worked(assistant, BarnFactory(lat=None, lon=None))
    assert log_driven_days(at=now) == []
    text = as_assistant.get("/mileage/").content.decode()
    assert "a barn of that day is not on the map" in text


def test_a_corrected_day_is_not_logged_again(owner_manager, now):
    worked(owner_manager, near_barn())
    correct(log_driven_days(at=now)[0], now, owner_manager)
    assert log_driven_days(at=now) == []


# By hand


def test_a_correction_counts_and_the_original_stays(owner_manager, now):
    first = written(owner_manager, now)
    second = correct(first, now, owner_manager)
    assert list(trips()) == [second]
    assert [row.metres for row in history_of(second)] == [20_000, 16093]
    first.refresh_from_db()
    assert (first.metres, second.why_changed) == (16093, "Odometer read")


def test_what_cannot_be_is_refused(owner_manager, now):
    with pytest.raises(Refused, match="not before"):
        written(owner_manager, now, day=MONDAY + timedelta(days=1))
    with pytest.raises(Refused, match="farther than anybody"):
        written(owner_manager, now, metres=2_000_001)
    trip = written(owner_manager, now)
    with pytest.raises(Refused, match="Say why"):
        correct(trip, now, owner_manager, why=" ")
    correct(trip, now, owner_manager)
    with pytest.raises(Refused, match="corrected already"):
        correct(trip, now, owner_manager)


# The pages


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return unescape(response.content.decode())


def test_the_whole_way_by_hand(as_assistant, assistant):
    facts = {"day": "2026-03-01", "driver": assistant.pk, "places": "Home, course, home", "purpose": "Training"}
    posted = facts | {"distance": "12.5", "measured": "odometer"}
    as_assistant.post("/mileage/new/", posted)
    trip = Trip.objects.get()
    assert trip.metres == 20117
    assert 'value="12.5"' in page(as_assistant, f"/mileage/{trip.pk}/correct/")
    posted = {"places": "Home, course, home", "purpose": "Training", "distance": "0", "measured": "odometer"}
    as_assistant.post(f"/mileage/{trip.pk}/correct/", posted | {"why": "Went by train"})
    text = page(as_assistant, f"/mileage/{Trip.objects.latest('pk').pk}/")
    assert "struck out" in text
    assert "Went by train" in text
    assert "12.5 mi" not in page(as_assistant, "/mileage/")


def test_driven_days_are_written_down_by_a_button(as_assistant, assistant):
    worked(assistant, near_barn())
    assert "1 driven day not in the log yet" in page(as_assistant, "/mileage/")
    text = as_assistant.post("/mileage/log/", follow=True).content.decode()
    assert "1 driven day written down." in text


@pytest.mark.parametrize(
    ("posted", "sentence"),
    [
        ({"distance": "-1"}, "0"),
        ({"distance": "far"}, "number"),
        ({"distance": "1300"}, "1250"),
        ({"day": "2026-03-03"}, "not before"),
        ({"places": ""}, "is missing"),
    ],
)
def test_a_trip_that_cannot_be_gets_a_sentence_and_loses_nothing(as_assistant, assistant, posted, sentence):
    good = {"day": "2026-03-01", "driver": assistant.pk, "places": "Home, course", "purpose": "Training"}
    response = as_assistant.post("/mileage/new/", good | {"distance": "9", "measured": "odometer"} | posted)
    text = unescape(response.content.decode())
    assert response.status_code == 422
    assert sentence in text
    assert 'value="Training"' in text


def test_an_assistant_sees_and_writes_their_own_miles_only(as_assistant, owner_manager, now):
    trip = written(owner_manager, now)
    assert "feed store" not in page(as_assistant, "/mileage/")
    assert as_assistant.get(f"/mileage/{trip.pk}/").status_code == 404
    posted = {"day": "2026-03-01", "driver": owner_manager.pk, "places": "x", "purpose": "x", "distance": "9"}
    assert as_assistant.post("/mileage/new/", posted | {"measured": "odometer"}).status_code == 422


def test_a_bookkeeper_reads_all_and_changes_nothing_and_a_stranger_signs_in(client, as_bookkeeper, owner_manager, now):
    trip = written(owner_manager, now)
    assert "feed store" in page(as_bookkeeper, "/mileage/")
    for path in ("/mileage/new/", f"/mileage/{trip.pk}/correct/"):
        assert as_bookkeeper.get(path).status_code == 403
        assert client.get(path).status_code == 302
    assert as_bookkeeper.post("/mileage/log/").status_code == 403


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_takes_the_same_queries_however_long(as_owner_manager, owner_manager, now, rows):
    for number in range(rows):
        written(owner_manager, now, day=date(2026, 1, 1) + timedelta(days=number))
    with CaptureQueriesContext(connection) as queries:
        page(as_owner_manager, "/mileage/")
    assert len(queries) == LIST_QUERIES
