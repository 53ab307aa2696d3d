from datetime import date, time, timedelta

import pytest
import time_machine

from clients.plans.models import Plan
from clients.visits.actions import book_visit
from tests.factories.clients import (
    ApplicatorFactory,
    BarnFactory,
    MachineFactory,
    PersonFactory,
    ServiceFactory,
)
from tests.factories.paperwork import ready_animal
from tests.factories.visits import MONDAY, VisitFactory, ready_visit, running_plan

pytestmark = pytest.mark.django_db
HORSE_QUERIES = 36


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def booked(now):
    return book_visit(visit=ready_visit(), starts=time(9, 0), at=now, by=None)


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return response.content.decode()


def post(client, path, facts=None, status=302):
    response = client.post(path, facts or {})
    assert response.status_code == status, response.content.decode()[-4000:]
    return response.content.decode()


# Plans, hires, the horse


def test_a_plan_is_proposed_and_booked_from_its_page(as_owner_manager):
    MachineFactory()
    plan = running_plan()
    post(as_owner_manager, f"/plans/{plan.pk}/propose/")
    post(as_owner_manager, f"/plans/{plan.pk}/book-all/")
    text = page(as_owner_manager, f"/plans/{plan.pk}/")
    assert "28 visits are booked" in text
    assert "0 completed of 28 planned sessions" in text
    post(as_owner_manager, f"/plans/{plan.pk}/propose/")
    assert "has its visit already" in page(as_owner_manager, f"/plans/{plan.pk}/")


def test_a_plan_names_what_stays_pencilled(as_owner_manager):
    plan = running_plan(days=3)
    post(as_owner_manager, f"/plans/{plan.pk}/propose/")
    post(as_owner_manager, f"/plans/{plan.pk}/book-all/")
    assert "needs a machine" in page(as_owner_manager, f"/plans/{plan.pk}/")


def test_a_plan_pauses_runs_and_stops_by_its_buttons(as_owner_manager):
    plan = running_plan()
    for way, state in [("pause", "paused"), ("run", "running"), ("stop", "stopped")]:
        post(as_owner_manager, f"/plans/{plan.pk}/{way}/")
        assert Plan.objects.get().state == state
    assert as_owner_manager.post(f"/plans/{plan.pk}/finish/").status_code == 409


def test_a_plan_is_reviewed(as_owner_manager):
    plan = running_plan()
    assert "after today" in post(as_owner_manager, f"/plans/{plan.pk}/review/", {"next_on": "2026-03-01"}, 422)
    post(as_owner_manager, f"/plans/{plan.pk}/review/", {"next_on": "2026-03-20"})
    assert Plan.objects.get().review_on == date(2026, 3, 20)


@pytest.mark.parametrize("rows", [1, 30])
def test_a_plan_page_takes_the_same_queries_however_many_visits(as_owner_manager, django_assert_num_queries, rows):
    plan = running_plan()
    for number in range(rows):
        VisitFactory(plan=plan, animal=plan.animal, day=MONDAY + timedelta(days=number))
    with django_assert_num_queries(7):
        page(as_owner_manager, f"/plans/{plan.pk}/")


def test_a_plan_starts_on_another_day_or_before_an_event(as_owner_manager):
    plan = running_plan()
    post(as_owner_manager, f"/plans/{plan.pk}/start/", {"start": "2026-03-09"})
    assert Plan.objects.get().start == date(2026, 3, 9)
    post(as_owner_manager, f"/plans/{plan.pk}/start/", {"event": "2026-05-09", "days_before": "2"})
    assert Plan.objects.get().start == date(2026, 4, 10)
    assert "the last full body is on Thu 7 May 2026" in page(as_owner_manager, f"/plans/{plan.pk}/")
    assert "Move the start" in page(as_owner_manager, f"/plans/{plan.pk}/")


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({"start": ""}, "one of them"),
        ({"start": "2026-03-09", "event": "2026-05-09"}, "one of them"),
        ({"event": "2026-02-01"}, "The event on Sun 1 Feb 2026 is past."),
        ({"event": "2026-03-20", "days_before": "2"}, "it would have to start on"),
        ({"start": "1926-03-09"}, "before 1980"),
    ],
)
def test_a_start_that_cannot_be_is_answered(as_owner_manager, facts, sentence):
    plan = running_plan()
    assert sentence in post(as_owner_manager, f"/plans/{plan.pk}/start/", facts, 422)


def test_a_bookkeeper_reads_a_plan_and_changes_nothing(as_bookkeeper):
    plan = running_plan()
    assert page(as_bookkeeper, f"/plans/{plan.pk}/")
    for way in ("propose", "book-all", "run", "pause", "finish", "stop", "review", "start", "spots"):
        assert as_bookkeeper.post(f"/plans/{plan.pk}/{way}/").status_code == 403, way


def test_a_machine_is_hired_out_by_a_form(as_owner_manager):
    machine = MachineFactory()
    facts = {"person": PersonFactory().pk, "since": "2026-03-02", "until": "2026-03-29"}
    post(as_owner_manager, f"/machines/{machine.pk}/hire/", facts)
    assert "on hire to" in page(as_owner_manager, f"/machines/{machine.pk}/")
    assert "is on hire to" in post(as_owner_manager, f"/machines/{machine.pk}/hire/", facts, status=422)


@pytest.mark.parametrize("rows", [1, 30])
def test_a_horse_page_takes_the_same_queries_however_long_its_history(
    as_owner_manager, django_assert_num_queries, rows
):
    animal = ready_animal(barn=BarnFactory())
    service, plan = ServiceFactory(), running_plan()
    Plan.objects.filter(pk=plan.pk).update(animal=animal)
    for number in range(rows):
        done = VisitFactory(animal=animal, service=service, completed=True, day=MONDAY - timedelta(days=1 + number))
        session = done.sessions.create(service=service, minutes=3)
        session.areas.create(position=1, area="Withers", minutes=3, applicator=ApplicatorFactory())
        VisitFactory(animal=animal, service=service, day=MONDAY + timedelta(days=number))
    with django_assert_num_queries(HORSE_QUERIES):
        text = page(as_owner_manager, f"/horses/{animal.pk}/")
    assert "Last session" in text
    assert "Withers" in text


def test_a_bookkeeper_sees_a_horse_without_its_health(as_bookkeeper):
    animal = ready_animal()
    text = page(as_bookkeeper, f"/horses/{animal.pk}/")
    assert "Permission to work" not in text
