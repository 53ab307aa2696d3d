from datetime import time

import pytest

from backoffice.audit.queries import trail_of
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.paperwork.models import Decision
from clients.rounds.actions import NOT_PLACED, make_round_sheet, plan_round
from clients.rounds.models import DayRound
from clients.visits.models import Visit
from tests.factories.clients import AnimalFactory, BarnFactory, BarnWindowFactory, MachineFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(business, owner_manager, now):
    """Plan Monday for the owner-manager, and read it back."""

    def planned() -> DayRound:
        return plan_round(day=MONDAY, practitioner=owner_manager, at=now, by=owner_manager)

    return planned


def order(planned: DayRound) -> list[list[Visit]]:
    return [list(stop.visits.order_by("starts", "pk")) for stop in planned.stops.all()]


def starts(visit: Visit) -> time | None:
    return Visit.objects.get(pk=visit.pk).starts


def test_the_horses_of_a_barn_are_done_one_after_the_other(plan, owner_manager):
    barn = near_barn()
    first, second = (booked_visit(owner_manager, barn=barn, minutes=45) for _ in range(2))
    planned = plan()
    stop = planned.stops.get()
    assert [visit.pk for visit in order(planned)[0]] == [first.pk, second.pk]
    assert (stop.starts.hour * 60 + stop.starts.minute + 10) == starts(first).hour * 60 + starts(first).minute
    assert starts(second) == Visit.objects.get(pk=first.pk).ends
    assert stop.ends == Visit.objects.get(pk=second.pk).ends


def test_planning_is_written_down_with_amounts_only(plan, owner_manager):
    booked_visit(owner_manager)
    (entry,) = trail_of(plan())
    assert entry.action == "round planned"
    assert entry.by == owner_manager


def test_a_window_of_the_barn_is_kept(plan, owner_manager):
    barn = near_barn()
    BarnWindowFactory(barn=barn, opens=time(14), closes=time(15))
    booked_visit(owner_manager, barn=barn)
    assert time(14) <= plan().stops.get().starts <= time(15)


def test_a_confirmed_time_stays_to_the_minute(plan, owner_manager):
    promised = booked_visit(owner_manager, starts=time(10, 35), is_confirmed=True)
    free = booked_visit(owner_manager, starts=time(10, 35))
    plan()
    assert starts(promised) == time(10, 35)
    assert starts(free) != time(10, 35)


def test_a_horse_in_isolation_comes_last_and_the_sickest_after_the_exposed(plan, owner_manager):
    infected = ready_animal(barn=near_barn(), isolation=Animal.Isolation.INFECTED)
    exposed = ready_animal(barn=near_barn(), isolation=Animal.Isolation.EXPOSED)
    last, second_last = booked_visit(owner_manager, animal=infected), booked_visit(owner_manager, animal=exposed)
    booked_visit(owner_manager)
    booked_visit(owner_manager)
    assert order(plan())[2:] == [[second_last], [last]]


def test_a_pencilled_visit_gets_a_time_and_stays_pencilled(plan, owner_manager):
    visit = VisitFactory(practitioner=owner_manager, animal=ready_animal(barn=near_barn()))
    plan()
    visit.refresh_from_db()
    assert visit.starts is not None
    assert visit.status == Visit.Status.PENCILLED


def test_a_barn_without_a_place_is_listed_with_its_reason(plan, owner_manager):
    visit = booked_visit(owner_manager, barn=BarnFactory(name="Lost Gate", lat=None, lon=None))
    planned = plan()
    (row,) = planned.unplaced
    assert (row["name"], row["visits"], row["reasons"]) == ("Lost Gate", [visit.pk], [NOT_PLACED])
    assert (planned.leaves, planned.back, order(planned)) == (None, None, [])


def test_a_stop_that_does_not_fit_says_why_and_keeps_its_time(plan, owner_manager):
    barn = near_barn()
    BarnWindowFactory(barn=barn, opens=time(5), closes=time(6))
    visit = booked_visit(owner_manager, barn=barn, starts=time(5, 30))
    (row,) = plan().unplaced
    assert row["reasons"]
    assert starts(visit) == time(5, 30)


def test_the_second_part_of_the_day_comes_after_the_first(plan, owner_manager):
    barn = near_barn()
    animal = ready_animal(barn=barn)
    evening, morning = booked_visit(owner_manager, animal=animal, part=2), booked_visit(owner_manager, animal=animal)
    assert order(plan()) == [[morning], [evening]]
    assert starts(evening) >= time(13, 30)


def test_without_a_base_planning_is_refused_and_the_old_plan_kept(plan, business, owner_manager):
    booked_visit(owner_manager)
    before = plan()
    business.base_lat = None
    business.save()
    with pytest.raises(Refused, match=r"Give the base its place under Settings, Business\."):
        plan()
    assert list(DayRound.objects.all()) == [before]


def test_planning_again_replaces_the_plan(plan, owner_manager):
    booked_visit(owner_manager)
    plan()
    booked_visit(owner_manager)
    assert len(order(plan())) == 2
    assert DayRound.objects.count() == 1


def test_a_machine_that_is_with_somebody_else_at_that_time_is_refused(plan, owner_manager, assistant):
    machine = MachineFactory(name="Unit one")
    booked_visit(assistant, machine=machine, starts=time(8), minutes=300)
    visit = booked_visit(owner_manager, machine=machine, starts=time(15), is_confirmed=False)
    with pytest.raises(Refused, match="Unit one is with somebody else then"):
        plan()
    assert starts(visit) == time(15)
    assert not DayRound.objects.exists()


def test_a_machine_shared_at_other_times_is_no_matter(plan, owner_manager, assistant):
    machine = MachineFactory()
    booked_visit(assistant, machine=machine, starts=time(8), minutes=60)
    booked_visit(owner_manager, machine=machine, starts=time(14), is_confirmed=True)
    assert len(order(plan())) == 1


# What is done already


def test_a_visit_that_is_done_keeps_its_time_in_the_plan(plan, owner_manager):
    done = booked_visit(owner_manager, completed=True, starts=time(10, 20))
    to_do = booked_visit(owner_manager)
    planned = plan()
    assert planned.unplaced == []
    assert starts(done) == time(10, 20)
    assert {visit for visits in order(planned) for visit in visits} == {done, to_do}


def test_a_visit_done_outside_the_day_is_shown_as_done_with_its_own_times(plan, owner_manager):
    barn = near_barn()
    done = booked_visit(owner_manager, barn=barn, completed=True, starts=time(6), minutes=50)
    to_do = booked_visit(owner_manager, barn=barn, starts=time(6))
    planned = plan()
    assert planned.unplaced == []
    assert order(planned) == [[done], [to_do]]
    early = planned.stops.first()
    assert (early.starts, early.ends, early.drive_minutes) == (time(6), time(6, 50), 0)
    assert starts(to_do) >= time(8)


def test_two_visits_done_at_once_are_both_shown_as_done(plan, owner_manager):
    """Facts written up late may overlap: no plan could hold both, and both happened."""
    for hour in (9, 9):
        booked_visit(owner_manager, completed=True, starts=time(hour))
    planned = plan()
    assert planned.unplaced == []
    assert len(order(planned)) == 2


def test_a_day_of_which_all_is_done_at_a_place_unknown_has_no_leaving(plan, owner_manager):
    done = booked_visit(owner_manager, barn=BarnFactory(lat=None, lon=None), completed=True)
    planned = plan()
    assert (planned.leaves, order(planned)) == (None, [[done]])


# The sheet


def test_the_round_sheet_is_stored_with_a_decision_for_each_open_visit(plan, owner_manager, now, private_folder):
    done = booked_visit(owner_manager, completed=True, starts=time(10))
    ready = booked_visit(owner_manager)
    held = booked_visit(owner_manager, animal=AnimalFactory(barn=near_barn()))
    planned = plan()
    document = make_round_sheet(day_round=planned, at=now, by=owner_manager)
    planned.refresh_from_db()
    assert planned.sheet == document
    assert document.kind == Document.Kind.ROUND_SHEET
    assert bytes_of(document).startswith(b"%PDF-")
    kept = Decision.objects.filter(door=Decision.Door.ROUND)
    assert dict(kept.values_list("animal", "result")) == {
        ready.animal_id: Decision.Result.READY,
        held.animal_id: Decision.Result.HOLD,
    }
    assert done.animal_id not in kept.values_list("animal", flat=True)
    assert {entry.action for entry in trail_of(planned)} == {"round planned", "round sheet made"}


def test_a_day_without_a_planned_stop_has_no_sheet(plan, owner_manager, now):
    planned = plan()
    with pytest.raises(Refused, match="no planned stop to print"):
        make_round_sheet(day_round=planned, at=now, by=owner_manager)


def test_a_round_that_is_gone_has_no_sheet(business, owner_manager, now):
    gone = DayRound(day=MONDAY, practitioner=owner_manager, planned_at=now)
    with pytest.raises(Refused, match="no planned stop to print"):
        make_round_sheet(day_round=gone, at=now, by=owner_manager)
