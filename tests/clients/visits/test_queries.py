from datetime import date, time, timedelta

import pytest

from clients.visits.hours import first_free_start
from clients.visits.models import Visit
from clients.visits.notes import barn_note, machine_note
from clients.visits.queries import completed_sessions, diary_week, next_day_by_cadence, uncompleted_visits, visits_on
from clients.visits.spots import why_spot_stands_alone
from tests.factories.clients import BarnFactory, BarnWindowFactory, ServiceFactory
from tests.factories.visits import MONDAY, VisitFactory, running_plan, spot

pytestmark = pytest.mark.django_db


def days(count):
    return timedelta(days=count)


def test_a_day_lists_its_visits_by_time_without_the_cancelled():
    late = VisitFactory(booked=True, starts=time(15, 0))
    early = VisitFactory(booked=True, starts=time(8, 0))
    VisitFactory(status=Visit.Status.CANCELLED)
    assert list(visits_on(MONDAY)) == [early, late]
    assert list(visits_on(MONDAY, late.practitioner)) == [late]


def test_booked_visits_of_days_gone_by_wait_to_be_written_up():
    waiting = VisitFactory(booked=True, day=MONDAY - days(1))
    VisitFactory(booked=True)
    VisitFactory(completed=True, day=MONDAY - days(1))
    assert list(uncompleted_visits(MONDAY)) == [waiting]


def test_completed_sessions_are_those_of_completed_visits():
    done = VisitFactory(completed=True)
    done.sessions.create(service=done.service, minutes=60)
    other = VisitFactory(status=Visit.Status.CANCELLED)
    other.sessions.create(service=other.service, minutes=60)
    assert [session.visit for session in completed_sessions()] == [done]


def test_a_week_puts_visits_into_stops_and_names_the_areas():
    barn = BarnFactory(area="North", area_days="MO, TH")
    first = VisitFactory(booked=True, animal__barn=barn, starts=time(10, 0))
    second = VisitFactory(booked=True, animal__barn=barn, starts=time(9, 0), practitioner=first.practitioner)
    VisitFactory(status=Visit.Status.CANCELLED)
    monday, tuesday, *rest = diary_week(MONDAY)
    (stop,) = monday.stops
    assert stop.visits == (second, first)
    assert (monday.areas, tuesday.areas, rest[1].areas) == (("North",), (), ("North",))
    assert (monday.count, monday.minutes, len(monday.cancelled)) == (2, 120, 1)


def test_a_second_part_of_the_day_is_a_stop_of_its_own():
    first = VisitFactory(booked=True)
    VisitFactory(booked=True, animal=first.animal, practitioner=first.practitioner, part=2, starts=time(15, 0))
    assert [stop.part for stop in diary_week(MONDAY)[0].stops] == [1, 2]


@pytest.mark.parametrize("rows", [1, 30])
def test_a_week_takes_three_queries_however_full_it_is(rows, django_assert_num_queries):
    for number in range(rows):
        VisitFactory(booked=True, day=MONDAY + days(number % 7))
    with django_assert_num_queries(3):
        week = diary_week(MONDAY)
        assert sum(day.count for day in week) == rows
        assert all(str(visit.machine) for day in week for stop in day.stops for visit in stop.visits)


def free(visit, **changes):
    facts = {"day": MONDAY, "practitioner": visit.practitioner, "barn": visit.barn, "minutes": 60} | changes
    return first_free_start(**facts)


def test_the_first_free_start_is_inside_the_barns_window(business):
    visit = VisitFactory()
    BarnWindowFactory(barn=visit.barn, opens="10:10", closes="15:00")
    assert free(visit) == time(10, 10)


def test_the_first_free_start_waits_for_the_machine_and_the_horse(business):
    there = VisitFactory(booked=True, starts=time(8, 0))
    other = VisitFactory()
    assert free(other) == time(8, 0)
    assert free(other, machine=there.machine) == time(9, 30)
    assert free(other, animal=there.animal) == time(9, 30)


def test_the_second_part_begins_after_lunch(business):
    assert free(VisitFactory(), part=2) == time(13, 30)


def test_a_visit_that_does_not_fit_into_the_day_has_no_start(business):
    visit = VisitFactory()
    BarnWindowFactory(barn=visit.barn, opens="17:00", closes="20:00")
    assert free(visit) is None


def test_the_next_day_comes_from_the_plan():
    plan = running_plan()
    visit = VisitFactory(animal=plan.animal, plan=plan, completed=True, planned_day=MONDAY)
    assert next_day_by_cadence(visit) == MONDAY + days(1)
    VisitFactory(animal=plan.animal, plan=plan, day=MONDAY + days(1), planned_day=MONDAY + days(1))
    assert next_day_by_cadence(visit) == MONDAY + days(2)


def test_without_a_plan_the_rhythm_so_far_goes_on():
    before = VisitFactory(completed=True, day=MONDAY - days(14))
    visit = VisitFactory(completed=True, animal=before.animal)
    assert next_day_by_cadence(visit) == MONDAY + days(14)
    assert next_day_by_cadence(before) is None


@pytest.mark.parametrize(("ago", "warns"), [(0, False), (3, False), (4, True), (None, True)])
def test_a_spot_leans_on_a_recent_full_body(ago, warns):
    visit = VisitFactory(service=spot())
    if ago is not None:
        VisitFactory(animal=visit.animal, completed=True, day=MONDAY - days(ago))
    assert bool(why_spot_stands_alone(visit)) is warns


def test_a_full_body_leans_on_nothing():
    assert why_spot_stands_alone(VisitFactory()) == ""


def test_notes_name_a_missing_machine_and_a_moved_horse():
    visit = VisitFactory(machine=None)
    assert machine_note(visit) == "No machine is set aside yet."
    visit.animal.barn = BarnFactory(name="Half Lantern")
    assert "stands at Half Lantern now" in barn_note(visit)
    assert machine_note(VisitFactory(machine=None, service=ServiceFactory(uses_machine=False))) == ""


def test_a_day_far_away_is_empty():
    assert not diary_week(date(2099, 1, 5))[0].stops
