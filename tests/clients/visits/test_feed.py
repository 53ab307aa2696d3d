from datetime import timedelta
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from backoffice.links.models import PrivateLink
from clients.paperwork.models import StopNote
from tests.factories.backoffice import UserFactory
from tests.factories.clients import HealthFactFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import VisitFactory

pytestmark = pytest.mark.django_db
FEED_QUERIES = 7


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


def made(client) -> str:
    """The path of a new address, as its page shows it once."""
    text = unescape(client.post("/diary/calendar/").content.decode())
    return "/p/diary/" + text.split("/p/diary/")[1].split("<")[0]


def test_the_feed_holds_ones_own_visits_and_no_health_or_money(client, as_assistant, assistant, now):
    visit = VisitFactory(practitioner=assistant, animal=ready_animal(name="Biscuit"), note="Warm near fore")
    HealthFactFactory(animal=visit.animal, note="Warm near fore")
    StopNote.objects.create(animal=visit.animal, seen="Warm near fore", opened_at=now, opened_by=assistant)
    VisitFactory(animal=ready_animal(name="Oats"))
    response = client.get(made(as_assistant))
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    text = response.content.decode()
    assert "Biscuit" in text
    assert "Oats" not in text
    assert "Warm" not in text
    assert visit.animal.ownerships.get().person.name not in text


def test_what_did_not_change_is_answered_in_short(client, as_assistant):
    path = made(as_assistant)
    etag = client.get(path)["ETag"]
    assert client.get(path, headers={"If-None-Match": etag}).status_code == 304


def test_a_new_address_closes_the_one_before_and_a_button_closes_the_last(client, as_assistant):
    first, second = made(as_assistant), made(as_assistant)
    assert [client.get(path).status_code for path in (first, second)] == [404, 200]
    as_assistant.post("/diary/calendar/", {"close": "1"})
    assert client.get(second).status_code == 404
    assert not PrivateLink.objects.filter(revoked_at=None).exists()


def test_the_address_is_shown_once(as_assistant):
    path = made(as_assistant)
    text = as_assistant.get("/diary/calendar/").content.decode()
    assert path not in text
    assert "A new one closes it." in text


def test_a_guessed_an_ended_and_a_left_persons_address_are_closed(client, as_assistant, assistant, now):
    path = made(as_assistant)
    assert client.get("/p/diary/" + "x" * 43 + ".ics").status_code == 404
    with time_machine.travel(now + timedelta(days=731), tick=False):
        assert client.get(path).status_code == 404
    assistant.is_active = False
    assistant.save()
    assert client.get(path).status_code == 404


def test_reading_changes_nothing_and_posting_is_not_allowed(client, as_assistant, assistant):
    path = made(as_assistant)
    assert client.post(path).status_code == 405
    assert client.head(path).status_code == 200


def test_a_stranger_makes_no_address(client):
    assert client.post("/diary/calendar/").status_code == 302
    assert not PrivateLink.objects.exists()


@pytest.mark.parametrize("rows", [1, 30])
def test_it_is_read_in_the_same_queries_however_long(client, as_assistant, assistant, rows):
    for _ in range(rows):
        VisitFactory(practitioner=assistant)
    VisitFactory(practitioner=UserFactory())
    path = made(as_assistant)
    client.get(path)
    with CaptureQueriesContext(connection) as queries:
        client.get(path)
    assert len(queries) == FEED_QUERIES
