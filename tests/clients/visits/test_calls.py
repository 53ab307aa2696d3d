"""The call list: skipped, no next date, long unseen; put away until a day."""

from datetime import timedelta

import pytest
import time_machine

from backoffice.refusal import Refused
from clients.visits.actions import call_later, list_again
from clients.visits.calls import call_list, calls, put_away, to_call_soon
from clients.visits.models import Visit
from tests.factories.clients import OwnershipFactory, PersonFactory, RoleFactory
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db
CALLS_QUERIES = 3


def days(count):
    return timedelta(days=count)


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


def seen(ago, **fields) -> Visit:
    return VisitFactory(completed=True, day=MONDAY - days(ago), **fields)


def test_it_holds_horses_without_a_date():
    due = seen(1, call_list_reason="Owner travels")
    VisitFactory(animal=seen(1).animal, day=MONDAY + days(7))
    seen(8, animal=due.animal)
    seen(1, animal__died_on=MONDAY)
    seen(731)
    assert list(call_list(MONDAY)) == [due]


def test_each_stands_under_why_it_is_there():
    skipped = seen(3, status=Visit.Status.COULD_NOT_WORK, cause=Visit.Cause.WET)
    no_date, edge, long_ago = seen(2), seen(90), seen(91, status=Visit.Status.COULD_NOT_WORK)
    found = calls(MONDAY)
    assert [call.visit for call in found.skipped] == [skipped]
    assert [call.visit for call in found.no_next_date] == [edge, no_date]
    assert [call.visit for call in found.long_unseen] == [long_ago]
    assert set(to_call_soon(MONDAY)) == {skipped, no_date, edge}


def test_the_handler_is_called_before_the_owner():
    visit = seen(2)
    owner, handler = PersonFactory(), PersonFactory()
    OwnershipFactory(animal=visit.animal, person=owner)
    assert calls(MONDAY).no_next_date[0].person == owner
    RoleFactory(animal=visit.animal, person=handler, kind="handler")
    assert calls(MONDAY).no_next_date[0].person == handler


def test_put_away_until_a_day_and_listed_again(now, owner_manager):
    visit = seen(2)
    call_later(animal=visit.animal, until=MONDAY + days(7), why="Away", at=now, by=owner_manager)
    assert not call_list(MONDAY + days(6)).exists()
    assert call_list(MONDAY + days(7)).exists()
    later = call_later(animal=visit.animal, until=MONDAY + days(9), at=now, by=owner_manager)
    assert list(put_away(MONDAY)) == [later]
    list_again(animal=visit.animal, at=now, by=owner_manager)
    assert call_list(MONDAY).exists()


@pytest.mark.parametrize("ahead", [0, -1])
def test_a_day_that_is_not_ahead_is_refused(ahead, now, owner_manager):
    with pytest.raises(Refused, match="still ahead"):
        call_later(animal=seen(2).animal, until=MONDAY + days(ahead), at=now, by=owner_manager)


def test_the_page_and_its_buttons(as_assistant):
    visit = seen(2, call_list_reason="Owner travels")
    html = as_assistant.get("/diary/calls/").content.decode()
    assert "No next date" in html
    assert "Owner travels" in html
    assert f"/visits/new/?animal={visit.animal_id}" in html
    path = f"/diary/calls/{visit.animal_id}/later/"
    assert "still ahead" in as_assistant.post(path, {"until": "2026-03-02"}).content.decode()
    html = as_assistant.post(path, {"until": "2026-03-20", "why": "At camp"}, follow=True).content.decode()
    assert "Nobody to call" in html
    assert "At camp" in html
    assert "Owner travels" in as_assistant.post(path, {"again": "1"}, follow=True).content.decode()


def test_who_may_not_change_care_does_not_see_it(as_bookkeeper):
    assert as_bookkeeper.get("/diary/calls/").status_code == 403
    assert as_bookkeeper.post(f"/diary/calls/{seen(2).animal_id}/later/").status_code == 403


@pytest.mark.parametrize("many", [1, 6])
def test_many_calls_take_as_many_queries(many, django_assert_num_queries):
    for _ in range(many):
        OwnershipFactory(animal=seen(2).animal)
    with django_assert_num_queries(CALLS_QUERIES):
        assert len(calls(MONDAY).no_next_date) == many
