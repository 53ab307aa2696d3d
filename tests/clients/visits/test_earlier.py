"""Work of before these records: noted by hand or for all horses at once, leaned on by spots, told in the history."""

from datetime import date, timedelta

import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.records.history import history_of
from clients.visits.actions import note_earlier_work
from clients.visits.models import EarlierWork
from clients.visits.queries import horses_without_full_body
from clients.visits.spots import why_spot_stands_alone
from tests.factories.clients import AnimalFactory, ServiceFactory
from tests.factories.visits import MONDAY, ready_visit, spot

pytestmark = pytest.mark.django_db
YESTERDAY = MONDAY - timedelta(days=1)


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def full():
    return ServiceFactory(name="Whole horse", kind="full")


def test_a_spot_leans_on_it_and_the_history_tells_it(now, owner_manager, full):
    visit = ready_visit(service=spot())
    assert why_spot_stands_alone(visit)
    note_earlier_work(animal=visit.animal, service=full, day=visit.day - timedelta(days=2), at=now, by=owner_manager)
    assert why_spot_stands_alone(visit) == ""
    told = history_of(visit.animal, since=None, on=visit.day)["earlier"]
    assert [row["service"] for row in told] == ["Whole horse"]


def test_today_has_a_visit_of_its_own_and_nothing_is_noted_twice(now, owner_manager, full):
    said = {"animal": AnimalFactory(), "service": full, "at": now, "by": owner_manager}
    with pytest.raises(Refused, match="a visit of its own"):
        note_earlier_work(day=MONDAY, **said)
    note_earlier_work(day=YESTERDAY, **said)
    with pytest.raises(Refused, match="noted already"):
        note_earlier_work(day=YESTERDAY, **said)


def test_noted_and_struck_out_on_the_page_of_the_horse(as_owner_manager, as_bookkeeper, full):
    horse = AnimalFactory()
    page = reverse("clients:earlier-work", args=[horse.pk])
    answer = as_owner_manager.post(page, {"service": full.pk, "day": MONDAY.isoformat()})
    assert "a visit of its own" in answer.content.decode()
    as_owner_manager.post(page, {"service": full.pk, "day": "2025-11-03", "minutes": "50", "note": "Calm"})
    shown = as_owner_manager.get(horse.get_absolute_url()).content.decode()
    assert "Before these records" in shown
    assert "Calm" in shown
    work = EarlierWork.objects.get()
    strike = reverse("clients:earlier-strike", args=[horse.pk, work.pk])
    assert as_bookkeeper.post(strike).status_code == 403
    as_owner_manager.post(strike)
    assert not EarlierWork.objects.exists()
    assert [row.action for row in trail_of(work)] == ["earlier work struck out", "earlier work noted"]


def test_the_last_full_body_of_every_horse_on_one_page(as_owner_manager, django_assert_num_queries, full):
    known, unknown, dead = AnimalFactory(name="Known"), AnimalFactory(name="Unknown"), AnimalFactory(name="Dead")
    dead.died_on = date(2026, 1, 1)
    dead.save()
    with django_assert_num_queries(1):
        assert {horse.name for horse in horses_without_full_body()} == {"Known", "Unknown"}
    page = reverse("clients:last-full-bodies")
    shown = as_owner_manager.get(page).content.decode()
    assert "Unknown" in shown
    assert shown.count('type="date"') == 2
    bad = as_owner_manager.post(page, {"service": full.pk, f"day_{known.pk}": "2030-01-01"})
    assert "a visit of its own" in bad.content.decode()
    as_owner_manager.post(page, {"service": full.pk, f"day_{known.pk}": "2026-02-20", f"day_{unknown.pk}": ""})
    assert [horse.name for horse in horses_without_full_body()] == ["Unknown"]
    assert known.earlier_work.get().day == date(2026, 2, 20)
