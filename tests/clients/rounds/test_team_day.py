"""Everybody's rounds of a day: shared out as a proposal, taken whole, with own bases, machines and promises kept."""

from datetime import time
from html import unescape

import pytest
import time_machine

from backoffice.business.models import Business
from backoffice.refusal import Refused
from clients.rounds.actions import plan_round
from clients.rounds.models import DayRound
from clients.rounds.queries import map_of
from clients.rounds.team_day import hand_on, share_out
from clients.visits.models import Visit
from clients.workdays.actions import note_absence, set_own_base
from clients.workdays.models import Absence, OwnBase
from tests.factories.backoffice import UserFactory
from tests.factories.clients import MachineFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY

pytestmark = pytest.mark.django_db
PATH = "/rounds/2026-03-02/"
TEAM_QUERIES = 8


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def other(now, owner_manager):
    """A second practitioner who lives an hour to the south."""
    person = UserFactory(drives_rounds=True, first_name="Ida")
    set_own_base(practitioner=person, place=(38.8, -104.6), at=now, by=owner_manager)
    return person


def visit_at(practitioner, name, lat, **fields) -> Visit:
    barn = near_barn(name=name, lat=lat, lon=-104.6)
    return booked_visit(practitioner, animal=ready_animal(name=f"Horse of {name}", barn=barn), **fields)


@pytest.fixture
def crossed(owner_manager, other):
    """Each has the stop that lies at the other's door."""
    return visit_at(owner_manager, "South", 38.82), visit_at(other, "North", 39.36)


def shared():
    return share_out(MONDAY, Business.objects.get())


def moves(found):
    return {move.visit.barn.name: move.to for move in found.moves}


def test_each_gets_what_lies_at_their_own_door(crossed, owner_manager, other):
    found = shared()
    assert moves(found) == {"South": other, "North": owner_manager}
    assert found.minutes_after < found.minutes_before / 4
    assert found.unplaced == ()
    assert Visit.objects.filter(practitioner=owner_manager).get().barn.name == "South"  # nothing changed


def test_a_promised_time_stays_with_whoever_promised_it(crossed, owner_manager):
    Visit.objects.filter(barn__name="South").update(is_confirmed=True)
    assert moves(shared()) == {"North": owner_manager}


def test_work_with_a_machine_goes_only_to_who_has_one(owner_manager, other):
    machine = MachineFactory(name="The only one")
    for name, lat in (("South", 38.82), ("Deep South", 38.7)):
        visit_at(owner_manager, name, lat, machine=machine)
    assert shared().moves == ()
    spare = MachineFactory(name="Spare")
    assert {move.machine for move in shared().moves} == {spare}


def test_it_takes_two_who_work_that_day(crossed, owner_manager, other, now):
    away = Absence(practitioner=other, since=MONDAY, until=MONDAY)
    note_absence(absence=away, at=now, by=owner_manager)
    with pytest.raises(Refused, match="takes two"):
        shared()


def test_the_stops_of_somebody_who_is_away_go_to_the_others(crossed, owner_manager, other, now):
    third = UserFactory(drives_rounds=True, first_name="Cal")
    Visit.objects.filter(practitioner=other).update(is_confirmed=True)
    note_absence(absence=Absence(practitioner=other, since=MONDAY, until=MONDAY), at=now, by=owner_manager)
    found = shared()
    assert set(found.people) == {owner_manager, third}
    assert found.minutes_before is None
    assert found.unplaced == ()
    hand_on(day=MONDAY, moves=found.moves, at=now, by=owner_manager)
    assert not Visit.objects.filter(practitioner=other).exists()


def test_a_day_that_has_begun_is_not_shared_out(crossed, now):
    Visit.objects.filter(barn__name="South").update(status="completed", completed_at=now)
    with pytest.raises(Refused, match="has begun"):
        shared()


def test_the_proposal_is_taken_whole_and_the_rounds_planned_anew(crossed, as_assistant, owner_manager, other):
    html = unescape(as_assistant.post(PATH).content.decode())
    assert "of driving together becomes" in html
    south, north = crossed
    sent = [f"{south.pk}:{other.pk}", f"{north.pk}:{owner_manager.pk}"]
    assert all(f'value="{each}"' in html for each in sent)
    html = as_assistant.post(PATH, {"take": "1", "move": sent}, follow=True).content.decode()
    assert "2 visits handed on" in html
    south.refresh_from_db()
    assert south.practitioner == other
    assert south.booking_decision.decided_at is not None
    assert DayRound.objects.count() == 2
    assert DayRound.objects.get(practitioner=other).drive_minutes < 20


@pytest.mark.parametrize("sent", [[], ["1:1"], ["x:y", "7"], ["99999:2"]])
def test_what_was_not_proposed_is_not_taken(crossed, as_assistant, sent):
    html = as_assistant.post(PATH, {"take": "1", "move": sent}, follow=True).content.decode()
    assert "Look at the new proposal" in unescape(html)
    assert not DayRound.objects.exists()


def test_a_visit_that_was_promised_meanwhile_stops_all_of_it(crossed, owner_manager, now):
    found = shared()
    Visit.objects.filter(barn__name="North").update(is_confirmed=True)
    with pytest.raises(Refused, match="changed meanwhile"):
        hand_on(day=MONDAY, moves=found.moves, at=now, by=owner_manager)
    assert Visit.objects.get(barn__name="South").practitioner == owner_manager


def test_a_round_begins_at_the_own_base(other, now, business):
    visit_at(other, "South", 38.82, starts=time(9))
    found = plan_round(day=MONDAY, practitioner=other, at=now, by=other)
    assert found.drive_minutes < 12
    drawing = map_of(DayRound.objects.get(), business)
    assert drawing.marks[0].spot.latitude == 38.8 or drawing.marks[-1].spot.latitude == 38.8


def test_a_base_is_written_and_taken_back(as_owner_manager, as_assistant, other):
    path = f"/diary/days/base/{other.pk}/"
    assert "such as 39.5" in as_owner_manager.post(path, {"place": "home"}).content.decode()
    as_owner_manager.post(path, {"place": "39.1, -104.7"})
    assert "39.1, -104.7" in as_owner_manager.get("/diary/days/").content.decode()
    refused = as_assistant.post(path, {"place": "1, 1"}).content.decode()
    assert "Only the owner-manager" in refused
    as_owner_manager.post(path, {"place": ""})
    assert not OwnBase.objects.exists()


@pytest.mark.parametrize("many", [1, 5])
def test_the_page_takes_the_same_queries_however_many(many, crossed, as_assistant, now, django_assert_num_queries):
    south, north = (visit.practitioner for visit in crossed)
    for number in range(many):
        visit_at(south, f"North {number}", 39.36 + number / 100)
        visit_at(north, f"South {number}", 38.82 + number / 100)
    plan_round(day=MONDAY, practitioner=north, at=now, by=north)
    with django_assert_num_queries(TEAM_QUERIES):
        html = as_assistant.get(PATH).content.decode()
    assert "Not planned yet" in html


def test_who_may_not_may_not(crossed, as_bookkeeper, client):
    assert as_bookkeeper.post(PATH).status_code == 403
    assert client.get(PATH).status_code == 302
