"""The day before: each who waits gets one drafted message with what to prepare, and is told by hand."""

from datetime import time, timedelta
from html import unescape

import pytest
import time_machine

from backoffice.business.models import Business
from clients.visits.actions import move_visit
from clients.visits.messages import coming_messages
from clients.visits.models import Told
from clients.visits.queries import visits_on
from tests.factories.clients import BarnFactory, OwnershipFactory, PersonFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db
PATH = "/diary/tell/2026-03-02/"


@pytest.fixture(autouse=True)
def _the_day_before(business, now):
    with time_machine.travel(now - timedelta(days=1), tick=False):
        yield


def coming(name="Biscuit", **fields):
    barn = fields.pop("barn", None) or BarnFactory(name="Foxglove")
    return VisitFactory(booked=True, animal=ready_animal(name=name, barn=barn), **{"starts": time(9, 40), **fields})


def drafts(on=MONDAY):
    return coming_messages(list(visits_on(on)), on, Business.objects.get())


def test_the_message_ends_in_the_practitioners_words(business):
    Business.objects.update(preparation_words="Dry and caught, please.")
    visit = coming()
    (draft,) = drafts()
    assert draft.person == visit.animal.ownerships.get().person
    name = Business.objects.get().name
    assert draft.text == f"On Mon 2 Mar we come to Foxglove about 9:40 for Biscuit. Dry and caught, please. {name}"


def test_a_promised_time_is_said_as_one_and_each_barn_once():
    first = coming(is_confirmed=True)
    person = first.animal.ownerships.get().person
    for visit in (coming("Oats", barn=first.barn, starts=time(10, 40)), coming("Rye", barn=BarnFactory(name="Larch"))):
        visit.animal.ownerships.all().delete()
        OwnershipFactory(animal=visit.animal, person=person)
    (draft,) = drafts()
    assert "to Larch about 9:40 for Rye" in draft.text
    assert "to Foxglove at 9:40 for Biscuit and Oats" in draft.text


def test_pencilled_visits_are_told_to_nobody():
    VisitFactory(animal=ready_animal())
    assert drafts() == []


def test_told_by_hand_and_told_again_after_a_move(as_assistant, now, owner_manager):
    visit = coming()
    person = visit.animal.ownerships.get().person
    assert "Foxglove about 9:40" in unescape(as_assistant.get(PATH).content.decode())
    html = as_assistant.post(f"{PATH}{person.pk}/", follow=True).content.decode()
    assert f"{person} is told." in unescape(html)
    assert Told.objects.get().what == Told.What.COMING
    assert drafts()[0].is_told
    tuesday = MONDAY + timedelta(days=1)
    move_visit(visit=visit, day=tuesday, starts=time(9, 40), at=now, by=owner_manager)
    assert not drafts(tuesday)[0].is_told


def test_nobody_else_is_marked_and_who_may_not_may_not(as_assistant, as_bookkeeper):
    coming()
    assert as_assistant.post(f"{PATH}{PersonFactory().pk}/").status_code == 404
    assert as_assistant.get("/diary/tell/soon/").status_code == 404
    assert "Nobody to tell" in as_assistant.get("/diary/tell/2026-03-09/").content.decode()
    assert as_bookkeeper.get(PATH).status_code == 403
