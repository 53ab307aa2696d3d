"""A spot without a full body near before it: warned of, booked only with a reason, which is kept."""

from datetime import time, timedelta

import pytest
import time_machine

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.plans.actions import allow_spots_alone
from clients.plans.cadence import Phase, Schedule
from clients.visits.actions import book_all, book_new_visit, book_visit, move_visit, propose_visits
from clients.visits.models import Visit
from clients.visits.spots import days_a_full_body_carries, say_spots_alone, spots_alone_in, why_spot_stands_alone
from tests.factories.backoffice import UserFactory
from tests.factories.clients import GuidelineVersionFactory, MachineFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory, PlanPhaseFactory
from tests.factories.visits import MONDAY, VisitFactory, ready_visit, spot

pytestmark = pytest.mark.django_db
NINE = time(9, 0)


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


def days(number):
    return timedelta(days=number)


def lonely_plan(**fields):
    """A full body on the first day, then nine daily spots: the last six have none within three days."""
    plan = PlanFactory(animal=ready_animal(), practitioner=UserFactory(), days=10, **fields)
    PlanPhaseFactory(plan=plan, position=1, days=1, full_every=1, spots_per_day=0)
    PlanPhaseFactory(plan=plan, position=2, days=9, full_every=None, spots_per_day=1)
    return plan


def alone(plan):
    sessions = Schedule((Phase(1, full_every=1), Phase(9, spots_per_day=1))).expand(MONDAY).sessions
    return [(day - MONDAY).days for day in spots_alone_in(plan, sessions)]


def test_a_spot_alone_is_booked_only_with_a_reason_which_is_kept(now):
    visit = ready_visit(service=spot())
    with pytest.raises(Refused, match="None is on record. Give a reason to book it all the same"):
        book_visit(visit=visit, starts=NINE, at=now, by=None)
    booked = book_visit(visit=visit, starts=NINE, at=now, by=None, spot_alone_reason=" The owner asked for it ")
    assert booked.spot_alone_reason == "The owner asked for it"
    entry = trail_of(booked).first()
    assert entry.changes["spot_without_full_body"] is True
    assert "asked" not in str(entry.changes)


def test_a_spot_near_a_full_body_needs_and_keeps_no_reason(now):
    visit = ready_visit(service=spot(), minutes=20)
    VisitFactory(animal=visit.animal, completed=True, day=MONDAY - days(2))
    booked = book_visit(visit=visit, starts=NINE, at=now, by=None, spot_alone_reason="Just so")
    assert booked.spot_alone_reason == ""


def test_a_new_spot_alone_that_is_not_booked_leaves_nothing_behind(now):
    facts = {
        "animal": ready_animal(),
        "service": spot(),
        "practitioner": UserFactory(),
        "machine": MachineFactory(),
        "day": MONDAY,
        "starts": NINE,
        "at": now,
        "by": None,
    }
    with pytest.raises(Refused, match="leans on a full body"):
        book_new_visit(**facts)
    assert not Visit.objects.exists()
    assert book_new_visit(**facts, spot_alone_reason="Wished for").spot_alone_reason == "Wished for"


def test_moving_a_booked_spot_away_from_its_full_body_takes_a_reason(now):
    visit = ready_visit(service=spot(), minutes=20)
    VisitFactory(animal=visit.animal, completed=True, day=MONDAY - days(2))
    book_visit(visit=visit, starts=NINE, at=now, by=None)
    with pytest.raises(Refused, match="The last one is Sat 28 Feb 2026"):
        move_visit(visit=visit, day=MONDAY + days(3), starts=NINE, at=now, by=None)
    moved = move_visit(visit=visit, day=MONDAY + days(3), starts=NINE, at=now, by=None, spot_alone_reason="Snow")
    assert moved.spot_alone_reason == "Snow"
    again = move_visit(visit=visit, day=MONDAY + days(4), starts=NINE, at=now, by=None)
    assert again.spot_alone_reason == "Snow"


def test_the_threshold_is_the_guidelines_else_the_businesss(business):
    business.spot_needs_full_within = 5
    business.save()
    plan = lonely_plan()
    assert days_a_full_body_carries(plan) == 5
    plan.guideline_version = GuidelineVersionFactory(spot_needs_full_within=1)
    assert days_a_full_body_carries(plan) == 1


def test_a_plan_names_its_spots_alone_and_counts_other_full_bodies_of_the_horse():
    plan = lonely_plan()
    assert alone(plan) == [4, 5, 6, 7, 8, 9]
    VisitFactory(animal=plan.animal, day=MONDAY + days(5))
    assert alone(plan) == [4, 9]
    assert say_spots_alone(plan, [MONDAY + days(n) for n in (4, 5, 6, 7, 7)]) == (
        "No full body on the day or in the 3 days before of these spots: "
        "Fri 6 Mar 2026, Sat 7 Mar 2026, Sun 8 Mar 2026 and 1 more."
    )
    assert say_spots_alone(plan, []) == ""


def test_spots_alone_stay_pencilled_until_the_plan_has_a_reason(now):
    MachineFactory()
    plan = lonely_plan()
    propose_visits(plan=plan, at=now, by=None)
    result = book_all(plan=plan, at=now, by=None)
    assert (len(result.booked), len(result.left)) == (4, 6)
    assert "leans on a full body" in result.left[0].reason
    allow_spots_alone(plan=plan, reason="The yard is far", at=now, by=None)
    assert len(book_all(plan=plan, at=now, by=None).booked) == 6
    assert set(Visit.objects.values_list("spot_alone_reason", flat=True)) == {"", "The yard is far"}


def test_going_on_without_a_reason_is_refused(now):
    with pytest.raises(Refused, match="Give a reason"):
        allow_spots_alone(plan=lonely_plan(), reason="  ", at=now, by=None)


def test_the_page_of_a_plan_warns_and_takes_the_reason(as_owner_manager):
    plan = lonely_plan()
    warned = as_owner_manager.get(f"/plans/{plan.pk}/").content.decode()
    assert "of these spots: Fri 6 Mar 2026" in warned
    assert "Go on with a reason" in warned
    assert as_owner_manager.post(f"/plans/{plan.pk}/spots/", {"reason": ""}).status_code == 422
    as_owner_manager.post(f"/plans/{plan.pk}/spots/", {"reason": "<script> 🐴"})
    kept = as_owner_manager.get(f"/plans/{plan.pk}/").content.decode()
    assert "Going on because: &lt;script&gt; 🐴" in kept
    assert "Go on with a reason" not in kept


def test_the_form_asks_for_the_reason_only_where_a_spot_stands_alone(as_owner_manager):
    visit, full = ready_visit(service=spot()), ready_visit()
    field = 'name="spot_alone_reason"'
    assert field in as_owner_manager.get(f"/visits/{visit.pk}/book/").content.decode()
    assert field not in as_owner_manager.get(f"/visits/{full.pk}/book/").content.decode()
    assert field not in as_owner_manager.get("/visits/new/").content.decode()
    facts = {
        "animal": visit.animal_id,
        "service": visit.service_id,
        "practitioner": visit.practitioner_id,
        "machine": visit.machine_id,
        "day": "2026-03-02",
        "starts": "9:00",
    }
    refused = as_owner_manager.post("/visits/new/", facts)
    assert refused.status_code == 422
    assert field in refused.content.decode()
    assert as_owner_manager.post("/visits/new/", facts | {"spot_alone_reason": "Asked"}).status_code == 302
    booked = Visit.objects.get(status=Visit.Status.BOOKED)
    assert "Asked" in as_owner_manager.get(f"/visits/{booked.pk}/").content.decode()
    assert why_spot_stands_alone(booked)
