"""At one stop of a round: its time is kept, lunch stands in its place, and what was cleaned is ticked."""

from datetime import time
from html import unescape

import pytest
import time_machine

from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.rounds.actions import plan_round
from clients.rounds.shown import sheet_context
from clients.rounds.stop_actions import lock_stop
from clients.visits.actions import move_visit
from clients.visits.models import StopList, Visit
from clients.visits.stop_lists import LISTS
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def path(owner_manager):
    return f"/rounds/2026-03-02/{owner_manager.pk}/"


def plan(practitioner, now):
    return plan_round(day=MONDAY, practitioner=practitioner, at=now, by=practitioner)


def horse(name, **fields) -> Animal:
    return ready_animal(name=name, barn=near_barn(name=f"At {name}"), **fields)


def test_a_kept_time_is_not_moved_by_a_plan(as_assistant, owner_manager, now, path):
    kept = booked_visit(owner_manager, animal=horse("Oats"), starts=time(14, 20))
    booked_visit(owner_manager, animal=horse("Rye"))
    plan(owner_manager, now)
    kept.refresh_from_db()
    assert kept.starts != time(14, 20)  # left to the plan it moves up to the other
    Visit.objects.filter(pk=kept.pk).update(starts=time(14, 20))
    lock_stop(visits=[kept], is_locked=True, at=now, by=owner_manager)
    plan(owner_manager, now)
    kept.refresh_from_db()
    assert (kept.starts, kept.is_confirmed) == (time(14, 20), False)
    key = f"{kept.barn_id}-1-clean"
    assert "Time kept" in as_assistant.get(path).content.decode()
    html = as_assistant.post(f"{path}lock/", {"stop": key}, follow=True).content.decode()
    assert "may be moved again" in html
    html = as_assistant.post(f"{path}lock/", {"stop": key, "lock": "1"}, follow=True).content.decode()
    assert "At Oats stays at its time" in html


def test_moving_a_visit_takes_the_lock_off(owner_manager, now):
    visit = booked_visit(owner_manager)
    lock_stop(visits=[visit], is_locked=True, at=now, by=owner_manager)
    moved = move_visit(visit=visit, day=MONDAY, starts=time(11), at=now, by=owner_manager)
    assert not moved.is_locked


def test_two_kept_times_that_clash_are_named(owner_manager, now):
    for name in ("Oats", "Rye"):
        visit = booked_visit(owner_manager, animal=horse(name), starts=time(10))
        lock_stop(visits=[visit], is_locked=True, at=now, by=owner_manager)
    (left,) = plan(owner_manager, now).unplaced
    assert "promised" in " ".join(left["reasons"]) or "kept" in " ".join(left["reasons"])


def test_what_is_done_has_no_time_to_keep(owner_manager, now):
    visit = booked_visit(owner_manager)
    Visit.objects.filter(pk=visit.pk).update(status=Visit.Status.COMPLETED, completed_at=now)
    with pytest.raises(Refused, match="still to be made"):
        lock_stop(visits=[Visit.objects.get(pk=visit.pk)], is_locked=True, at=now, by=owner_manager)


def test_lunch_stands_between_the_stops(owner_manager, now, as_assistant, path):
    booked_visit(owner_manager, animal=horse("Oats"), minutes=120)
    booked_visit(owner_manager, animal=horse("Rye"), minutes=120, starts=time(14), is_confirmed=True)
    shown = sheet_context(plan(owner_manager, now), [], {v.pk: None for v in Visit.objects.all()})
    assert [row["comes_after_lunch"] for row in shown["stops"]] == [False, True]
    html = as_assistant.get(path).content.decode()
    assert html.index("At Oats") < html.index("<h3>Lunch</h3>") < html.index('time">14:00')


@pytest.fixture
def isolated(owner_manager, now):
    booked_visit(owner_manager, animal=horse("Rye"))
    booked_visit(owner_manager, animal=horse("Oats", isolation=Animal.Isolation.INFECTED))
    return plan(owner_manager, now).stops.get(isolation="infected")


def test_the_cleaning_list_is_ticked_and_kept_through_a_new_plan(isolated, as_assistant, owner_manager, now, path):
    html = unescape(as_assistant.get(path).content.decode())
    assert html.count("Before you go on") == 1
    sent = {"stop": f"{isolated.barn_id}-1-infected", "done": ["boots", "hands", "nonsense"]}
    html = as_assistant.post(f"{path}clean/", sent, follow=True).content.decode()
    assert "3 of the cleaning list still to do" in html
    assert StopList.objects.get().done == ["boots", "hands"]
    plan(owner_manager, now)
    assert as_assistant.get(path).content.decode().count(" checked>") == 2
    sent["done"] = list(LISTS[StopList.Kind.CLEANING])
    assert "all of the cleaning list is done" in as_assistant.post(f"{path}clean/", sent, follow=True).content.decode()


def test_another_stop_is_not_found_and_who_may_not_may_not(isolated, as_assistant, as_bookkeeper, path):
    for what in ("clean", "lock"):
        assert as_assistant.post(f"{path}{what}/", {"stop": "0-1-clean"}).status_code == 404
        assert as_bookkeeper.post(f"{path}{what}/", {"stop": f"{isolated.barn_id}-1-infected"}).status_code == 403
