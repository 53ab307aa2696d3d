"""Running late: what is left today takes it up or passes it on; whoever waits longer is told by hand."""

from datetime import time
from html import unescape

import pytest
import time_machine

from clients.rounds.actions import plan_round
from clients.rounds.late_queries import late_messages, late_stops
from clients.rounds.lateness import Delay, Leg, delayed
from clients.rounds.queries import round_of
from clients.visits.models import Told, Visit
from tests.factories.clients import PersonFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY


def test_lateness_goes_on_less_the_free_time_before_each_later_stop():
    legs = [Leg(1, 540, 0), Leg(2, 660, 10), Leg(3, 780, 30)]
    assert delayed(legs, 25) == [Delay(1, 565, 25), Delay(2, 675, 15), Delay(3, 780, 0)]


def test_free_time_before_the_first_is_not_counted_twice():
    assert delayed([Leg(1, 540, 60)], 25) == [Delay(1, 565, 25)]
    assert delayed([], 25) == []


def test_nobody_is_late_by_less_than_nothing():
    with pytest.raises(ValueError, match="less than nothing"):
        delayed([], -1)


@pytest.fixture
def line_of_two(business, now, owner_manager, db):
    """Near at nine, and Far at three with hours between them."""
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        near = booked_visit(owner_manager, animal=ready_animal(name="Biscuit", barn=near_barn(name="Near")))
        far = booked_visit(
            owner_manager,
            animal=ready_animal(name="Oats", barn=near_barn(name="Far", lat=39.6)),
            starts=time(15),
            is_confirmed=True,
        )
        plan_round(day=MONDAY, practitioner=owner_manager, at=now, by=owner_manager)
        yield near, far


def late(owner_manager, business, minutes):
    return late_stops(round_of(MONDAY, owner_manager), minutes, business)


def test_the_hours_between_two_barns_take_it_up(line_of_two, owner_manager, business):
    near, far = late(owner_manager, business, 25)
    assert (near.minutes, far.minutes) == (25, 0)
    assert far.starts == far.stop.starts
    assert late(owner_manager, business, 300)[1].minutes > 0


def test_what_is_done_is_not_late(line_of_two, owner_manager, business, now):
    near, _ = line_of_two
    Visit.objects.filter(pk=near.pk).update(status=Visit.Status.COMPLETED, completed_at=now)
    (left,) = late(owner_manager, business, 25)
    assert left.minutes == 25


def test_only_those_who_wait_longer_are_told_with_the_new_time(line_of_two, owner_manager, business):
    (draft,) = late_messages(late(owner_manager, business, 25), MONDAY, business)
    assert draft.person == line_of_two[0].animal.ownerships.get().person
    assert draft.text.startswith("We are about 25 minutes late: at Near about ")
    assert f"for Biscuit. {business.name}" in draft.text
    assert late_messages(late(owner_manager, business, 9), MONDAY, business) == []


def page(client, path, status=200):
    response = client.get(path)
    assert response.status_code == status, path
    return unescape(response.content.decode())


def test_two_taps_and_the_mark(line_of_two, as_assistant, owner_manager):
    path = f"/rounds/2026-03-02/{owner_manager.pk}/late/"
    assert path in page(as_assistant, path.removesuffix("late/"))
    assert "Who must be told" not in page(as_assistant, path)
    text = page(as_assistant, f"{path}?minutes=30")
    assert "instead of" in text
    assert "later" in text
    assert "as planned: the free time before it takes it up" in text
    before = list(Visit.objects.values_list("starts", "is_confirmed"))
    person = line_of_two[0].animal.ownerships.get().person
    text = as_assistant.post(f"{path}{person.pk}/", {"minutes": "30"}, follow=True).content.decode()
    assert f"{person} is told." in text
    assert Told.objects.get().what == Told.What.LATE
    assert list(Visit.objects.values_list("starts", "is_confirmed")) == before


@pytest.mark.parametrize("minutes", ["", "0", "-5", "soon", "301", "9" * 40])
def test_minutes_that_are_none_ask_again(line_of_two, as_assistant, owner_manager, minutes):
    assert "Who must be told" not in page(
        as_assistant, f"/rounds/2026-03-02/{owner_manager.pk}/late/?minutes={minutes}"
    )


def test_nobody_else_is_marked_and_who_may_not_may_not(line_of_two, client, as_assistant, as_bookkeeper, owner_manager):
    path = f"/rounds/2026-03-02/{owner_manager.pk}/late/"
    assert as_assistant.post(f"{path}{PersonFactory().pk}/", {"minutes": "30"}).status_code == 404
    assert as_assistant.get(f"/rounds/2026-03-09/{owner_manager.pk}/late/").status_code == 404
    assert as_bookkeeper.get(path).status_code == 403
    assert client.get(path).status_code == 302
