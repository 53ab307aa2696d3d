from datetime import date, time, timedelta

import pytest

from backoffice.refusal import Refused
from clients.plans.models import Plan, Service
from clients.visits.actions import book_all, move_plan_start, propose_visits
from clients.visits.models import Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import BarnWindowFactory, MachineFactory
from tests.factories.kit import HireFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory, PlanPhaseFactory
from tests.factories.visits import MONDAY, VisitFactory, running_plan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _open_for_business(business):
    """Permission reads the place of law from the profile."""


def propose(plan, now):
    return propose_visits(plan=plan, at=now, by=None)


def test_the_cadence_becomes_pencilled_visits(now):
    machine = MachineFactory()
    made = propose(running_plan(), now)
    kinds = [visit.service.kind for visit in made]
    assert (kinds.count(Service.Kind.FULL), kinds.count(Service.Kind.SPOT)) == (10, 18)
    assert {visit.status for visit in made} == {Visit.Status.PENCILLED}
    assert {visit.machine for visit in made} == {machine}
    assert made[0].day == made[0].planned_day == MONDAY


def test_days_already_there_are_skipped(now):
    plan = running_plan()
    first = propose(plan, now)
    first[0].status = Visit.Status.CANCELLED
    first[0].save()
    first[1].delete()
    assert [visit.day for visit in propose(plan, now)] == [first[1].planned_day]


def test_nothing_is_proposed_in_the_past(now):
    made = propose(running_plan(), now + timedelta(days=26))
    assert [visit.day for visit in made] == [date(2026, 3, 28), date(2026, 3, 29)]


def test_a_second_spot_is_the_second_part_of_its_day(now):
    plan = PlanFactory(animal=ready_animal(), practitioner=UserFactory(), days=2)
    PlanPhaseFactory(plan=plan, days=2, full_every=2, spots_per_day=2)
    assert [(visit.day.day, visit.part) for visit in propose(plan, now)] == [(2, 1), (3, 1), (3, 2)]


@pytest.mark.parametrize("state", [Plan.State.PAUSED, Plan.State.FINISHED, Plan.State.STOPPED])
def test_a_plan_that_does_not_run_gets_no_visits(now, state):
    with pytest.raises(Refused, match=f"this one is {state}"):
        propose(running_plan(state=state), now)


def test_without_anybody_who_drives_rounds_nothing_is_proposed(now):
    plan = PlanFactory(practitioner=None)
    PlanPhaseFactory(plan=plan)
    with pytest.raises(Refused, match="Nobody here drives rounds"):
        propose(plan, now)


def test_who_saw_the_horse_last_comes_again(now):
    UserFactory()
    plan = PlanFactory(practitioner=None)
    PlanPhaseFactory(plan=plan)
    seen = VisitFactory(animal=plan.animal, completed=True, day=date(2026, 2, 20))
    assert propose(plan, now)[0].practitioner == seen.practitioner


def test_the_practitioners_machine_of_the_day_is_chosen(now):
    MachineFactory(name="A, nobody's")
    plan = running_plan()
    theirs = MachineFactory(name="Z, theirs")
    VisitFactory(booked=True, practitioner=plan.practitioner, machine=theirs)
    assert propose(plan, now)[0].machine == theirs


def test_a_machine_that_somebody_else_has_that_day_is_the_last_choice(now):
    taken, free = MachineFactory(name="A, taken"), MachineFactory(name="B, free")
    VisitFactory(booked=True, machine=taken)
    assert propose(running_plan(), now)[0].machine == free


def test_with_no_machine_free_the_visit_waits_without_one(now):
    HireFactory(since=MONDAY, until=MONDAY)
    made = propose(running_plan(), now)
    assert made[0].machine is None
    assert made[1].machine is not None


def test_book_all_books_each_day_at_its_first_free_time(now):
    MachineFactory()
    plan = running_plan()
    propose(plan, now)
    result = book_all(plan=plan, at=now, by=None)
    assert len(result.booked) == 28
    assert not result.left
    assert {visit.starts for visit in result.booked} == {time(8, 0)}


def test_what_is_not_ready_stays_pencilled_with_its_reason(now):
    hire = HireFactory(since=MONDAY, until=MONDAY + timedelta(days=1))
    plan = running_plan()
    propose(plan, now)
    result = book_all(plan=plan, at=now, by=None)
    assert [left.visit.day for left in result.left] == [MONDAY, MONDAY + timedelta(days=1)]
    assert all("needs a machine" in left.reason for left in result.left)
    hire.delete()
    assert len(book_all(plan=plan, at=now, by=None).booked) == 2


def test_a_day_without_room_stays_pencilled(now):
    MachineFactory()
    plan = running_plan()
    BarnWindowFactory(barn=plan.animal.barn, opens="05:00", closes="06:00")
    propose(plan, now)
    result = book_all(plan=plan, at=now, by=None)
    assert not result.booked
    assert "has no free time for it on Mon 2 Mar 2026" in result.left[0].reason


def test_horses_of_one_barn_are_booked_behind_each_other(now):
    MachineFactory()
    plan = running_plan()
    other = PlanFactory(animal=ready_animal(barn=plan.animal.barn), practitioner=plan.practitioner)
    PlanPhaseFactory(plan=other)
    for each in (plan, other):
        propose(each, now)
        book_all(plan=each, at=now, by=None)
    on_monday = Visit.objects.filter(day=MONDAY).order_by("starts")
    assert [visit.starts for visit in on_monday] == [time(8, 0), time(9, 0)]


def test_rules_days_off_and_holidays_of_a_plan_shape_its_visits(now):
    off = ["SU", "2026-04-02", "holidays GB-ENG"]
    plan = PlanFactory(animal=ready_animal(), practitioner=UserFactory(), days=42, days_off=off, on_day_off="next")
    PlanPhaseFactory(
        plan=plan, position=1, days=14, full_rule="FREQ=WEEKLY;BYDAY=MO,TH", full_every=None, spots_per_day=0
    )
    PlanPhaseFactory(plan=plan, position=2, days=28, full_every=7, spots_per_day=0)
    made = propose(plan, now)
    # Mondays and Thursdays, then each Monday; Easter Monday, 6 April 2026, moves to the Tuesday.
    assert [f"{visit.day:%d %b}" for visit in made] == [
        *("02 Mar", "05 Mar", "09 Mar", "12 Mar", "16 Mar", "23 Mar", "30 Mar", "07 Apr"),
    ]


def test_a_plan_with_the_start_moved_has_its_pencilled_visits_on_the_new_days(now):
    plan = running_plan(state=Plan.State.PROPOSED)
    propose(plan, now)
    later = MONDAY + timedelta(days=10)
    made = move_plan_start(plan=plan, start=later, at=now, by=None)
    plan.refresh_from_db()
    assert (plan.start, plan.review_on) == (later, date(2026, 4, 5))
    assert (len(made), plan.visits.count(), made[0].day) == (28, 28, later)


@pytest.mark.parametrize(
    ("start", "sentence"),
    [(date(1926, 3, 2), "is past"), (date(2026, 2, 27), "is past"), (date(2099, 1, 1), "two years ahead")],
)
def test_a_plan_is_not_moved_to_an_absurd_day(now, start, sentence):
    with pytest.raises(Refused, match=sentence):
        move_plan_start(plan=running_plan(), start=start, at=now, by=None)


def test_a_plan_with_booked_visits_or_one_that_stopped_is_not_moved(now):
    MachineFactory()
    plan = running_plan()
    propose(plan, now)
    book_all(plan=plan, at=now, by=None)
    with pytest.raises(Refused, match="booked already"):
        move_plan_start(plan=plan, start=MONDAY, at=now, by=None)
    with pytest.raises(Refused, match="stopped is not moved"):
        move_plan_start(plan=running_plan(state=Plan.State.STOPPED), start=MONDAY, at=now, by=None)
