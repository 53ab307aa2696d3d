"""The diary as the person who drives meets it: a visit moved by hand, a day that fails, two who want one machine."""

from collections.abc import Callable
from datetime import date, time, timedelta

import pytest
from django.utils import timezone

from backoffice.access.models import User
from clients.animals.models import Animal
from clients.paperwork.models import Wording
from clients.visits.models import Visit
from tests.factories.clients import FormFactory, GuidelineVersionFactory, MachineFactory
from tests.factories.paperwork import ready_animal, version_of
from tests.factories.plans import PlanFactory
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import VisitFactory
from tests.journeys.conftest import PASSWORD
from tests.journeys.walk import Walk

pytestmark = pytest.mark.browser


def sign_in(walk: Walk, username: str) -> None:
    walk.open("/")
    walk.write(username=username, password=PASSWORD)
    walk.press("Sign in")


def monday() -> date:
    """Of next week, so that the whole week is still to come."""
    today = timezone.localdate()
    return today + timedelta(days=7 - today.weekday())


def week_of(day: date) -> str:
    year, number, _ = day.isocalendar()
    return f"/diary/?week={year}-W{number:02}"


def horse(called: str, **barn: object) -> Animal:
    animal = ready_animal(asked_on=timezone.localdate(), name=called, barn=near_barn(**barn))
    owner = animal.ownerships.get().person
    FormFactory(animal=animal, signer=owner, wording_version=version_of(Wording.Kind.TERMS), signed=True)
    return animal


@pytest.fixture
def visit(practice: User) -> Visit:
    machine = MachineFactory(name="Field unit one")
    return booked_visit(practice, animal=horse("Ember Day", name="Copper Hasp"), day=monday(), machine=machine)


@pytest.mark.parametrize("size", ["laptop"], indirect=True)
def test_a_visit_dragged_to_another_day_shows_its_extra_miles_first(visit: Visit, new_walk: Callable[[], Walk]):
    desk = new_walk()
    sign_in(desk, visit.practitioner.username)
    desk.open(week_of(visit.day))
    thursday = visit.day + timedelta(days=3)
    held = desk.page.locator(f'[data-move="/visits/{visit.pk}/move/"]')
    column = desk.page.locator(f'[data-day="{thursday.isoformat()}"]')
    with desk.page.expect_navigation():
        held.drag_to(column)
    desk.says("miles more on Thu", "miles less on Mon", "in all no more driving")
    desk.look("90-dragged-to-thursday")
    visit.refresh_from_db()
    assert visit.day == monday()
    desk.press("Move visit")
    visit.refresh_from_db()
    assert visit.day == thursday
    assert desk.faults == []


@pytest.mark.parametrize("size", ["laptop"], indirect=True)
def test_a_visit_is_moved_from_the_keyboard(visit: Visit, new_walk: Callable[[], Walk]):
    desk = new_walk()
    sign_in(desk, visit.practitioner.username)
    desk.open(week_of(visit.day))
    desk.page.locator(f'[data-move="/visits/{visit.pk}/move/"]').focus()
    with desk.page.expect_navigation():
        desk.page.keyboard.press("Alt+ArrowRight")
    desk.says("miles more on Tue")
    assert desk.faults == []


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_a_snow_day_is_moved_told_and_undone(visit: Visit, new_walk: Callable[[], Walk]):
    oats = horse("Oats", lat=39.5)
    other = booked_visit(visit.practitioner, animal=oats, day=visit.day, starts=time(13), machine=visit.machine)
    desk = new_walk()
    sign_in(desk, visit.practitioner.username)
    desk.open(f"/rounds/{visit.day.isoformat()}/{visit.practitioner_id}/")
    desk.press("This day fails")
    desk.says("Ember Day", "Oats", "Nobody is charged")
    desk.page.get_by_role("radio", name="Weather").check()
    desk.write(words="Snow on the roads")
    desk.look("91-a-day-fails")
    desk.press("Free the day")
    desk.says("Nobody was charged for it.", "We propose", "Ember Day")
    desk.look("92-new-days-and-messages")
    desk.press("Told")
    for each in (visit, other):
        each.refresh_from_db()
        assert (each.status, each.is_late_cancel) == (Visit.Status.PENCILLED, False)
    desk.press("Put the day back")
    desk.says("stands as it did", "after all")
    desk.look("93-put-back")
    for each in (visit, other):
        starts = each.starts
        each.refresh_from_db()
        assert (each.status, each.day) == (Visit.Status.BOOKED, monday()), starts
    assert desk.faults == []


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_of_two_who_book_the_same_machine_one_is_refused_in_words(practice: User, new_walk: Callable[[], Walk]):
    machine = MachineFactory(name="Field unit one")
    rows = [VisitFactory(animal=horse(name), day=monday(), machine=machine) for name in ("Ember Day", "Oats")]
    first, second = new_walk(), new_walk()
    for walk, row in zip((first, second), rows, strict=True):
        sign_in(walk, practice.username)
        walk.open(f"/visits/{row.pk}/book/")
        walk.write(starts="10:00", machine="Field unit one")
    first.press("Book visit")
    second.press("Book visit")
    second.says("Field unit one is taken then: Ember Day at")
    second.look("94-the-machine-is-taken")
    assert [Visit.objects.get(pk=row.pk).status for row in rows] == ["booked", "pencilled"]


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_the_planners_proposal_is_taken_in_part(practice: User, new_walk: Callable[[], Walk]):
    version = GuidelineVersionFactory(tolerance_days=1)
    machine = MachineFactory(name="Field unit one")
    pencilled = []
    for name, lat, day in (("Ember Day", 39.42, 1), ("Oats", 39.6, 3)):
        known, other = horse(f"{name} the elder", lat=lat), horse(name, lat=lat)
        Animal.objects.filter(pk=other.pk).update(barn=known.barn)
        booked_visit(practice, animal=known, day=monday() + timedelta(days=day), machine=machine)
        plan = PlanFactory(animal=other, guideline_version=version)
        on = monday() + timedelta(days=day + 1)
        animal = Animal.objects.get(pk=other.pk)
        pencilled.append(
            VisitFactory(animal=animal, practitioner=practice, plan=plan, day=on, planned_day=on, machine=machine)
        )
    desk = new_walk()
    sign_in(desk, practice.username)
    desk.open("/diary/")
    desk.press("Plan these days")
    desk.look("95-plan-these-days")
    desk.press("Look for better days")
    desk.says("All lines together", "less driving", "Ember Day", "Oats")
    desk.look("96-the-proposal")
    desk.page.get_by_role("checkbox").first.check()
    desk.press("Take the ticked ones")
    desk.says("1 visit moved.", "Accepted")
    desk.look("97-taken-in-part")
    moved = [Visit.objects.get(pk=visit.pk).day != visit.day for visit in pencilled]
    assert sorted(moved) == [False, True]
    assert desk.faults == []
