from datetime import date

import pytest

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.plans.actions import (
    add_starter_guidelines,
    finish_plan,
    pause_plan,
    propose_plan,
    publish_version,
    review_plan,
    run_plan,
    stop_plan,
)
from clients.plans.cadence import Phase
from clients.plans.models import Goal, Guideline, Plan, PlanPhase
from tests.factories.clients import AnimalFactory, GuidelineFactory, ServiceFactory
from tests.factories.paperwork import make_ready, ready_animal, referral_for
from tests.factories.plans import PlanFactory, PlanPhaseFactory

MONDAY = date(2026, 3, 2)
pytestmark = pytest.mark.django_db


def propose(now, **changes):
    facts = {
        "animal": None,
        "goal": Goal.UPKEEP,
        "title": "Every third day",
        "guideline_version": None,
        "full_service": None,
        "spot_service": None,
        "start": MONDAY,
        "days": 28,
        "phases": [Phase(days=28, full_every=3)],
        "days_off": ["SU"],
        "on_day_off": "next",
        "at": now,
        "by": None,
    } | changes
    facts["animal"] = facts["animal"] or AnimalFactory()
    facts["full_service"] = facts["full_service"] or ServiceFactory()
    return propose_plan(**facts)


def test_a_proposed_plan_keeps_its_phases_and_sets_a_review(now):
    plan = propose(now)
    assert plan.state == Plan.State.PROPOSED
    assert [(phase.days, phase.full_every) for phase in plan.phases.all()] == [(28, 3)]
    assert plan.review_on == date(2026, 3, 26)
    assert trail_of(plan).first().action == "plan proposed"


def test_spots_without_a_spot_service_are_refused(now):
    with pytest.raises(Refused, match="say which service"):
        propose(now, phases=[Phase(days=28, full_every=3, spots_per_day=1)])


def test_a_plan_without_phases_is_refused(now):
    with pytest.raises(Refused, match="at least one phase"):
        propose(now, phases=[])


@pytest.mark.parametrize("days", [0, 731, 900])
def test_a_plan_of_no_days_or_of_years_is_refused(now, days):
    with pytest.raises(Refused, match="from 1 to 730 days"):
        propose(now, days=days)


def test_a_plan_for_a_horse_that_died_is_refused(now):
    with pytest.raises(Refused, match="has died"):
        propose(now, animal=AnimalFactory(died_on=date(2026, 1, 1)))


@pytest.mark.parametrize(
    ("move", "before", "after"),
    [
        (run_plan, "proposed", "running"),
        (run_plan, "paused", "running"),
        (pause_plan, "running", "paused"),
        (finish_plan, "running", "finished"),
        (finish_plan, "paused", "finished"),
        (stop_plan, "proposed", "stopped"),
        (stop_plan, "running", "stopped"),
    ],
)
def test_a_plan_moves_between_its_states(now, move, before, after):
    plan = move(plan=PlanFactory(state=before), at=now, by=None)
    assert plan.state == after
    assert trail_of(plan).first().changes == {"from": before, "to": after}


@pytest.mark.parametrize(
    ("move", "before"),
    [
        (run_plan, "running"),
        (run_plan, "stopped"),
        (pause_plan, "proposed"),
        (pause_plan, "finished"),
        (finish_plan, "proposed"),
        (finish_plan, "stopped"),
        (stop_plan, "finished"),
        (stop_plan, "stopped"),
    ],
)
def test_a_move_from_the_wrong_state_is_refused(now, move, before):
    with pytest.raises(Refused, match=f"A plan that is {before} cannot"):
        move(plan=PlanFactory(state=before), at=now, by=None)


def test_a_plan_is_not_set_running_while_a_horse_is_on_hold(business, now):
    plan = PlanPhaseFactory(plan__state="proposed").plan
    with pytest.raises(Refused, match=f"{plan.animal}: hold. No consent is signed"):
        run_plan(plan=plan, at=now, by=None)
    plan.refresh_from_db()
    assert plan.state == Plan.State.PROPOSED
    make_ready(plan.animal)
    assert run_plan(plan=plan, at=now, by=None).state == Plan.State.RUNNING


def test_a_plan_that_needs_the_vet_runs_with_the_vets_yes_for_each_of_its_services(business, now):
    plan = PlanPhaseFactory(plan__state="paused", plan__animal=ready_animal(), plan__goal=Goal.ACUTE).plan
    with pytest.raises(Refused, match="is followed only with the vet"):
        run_plan(plan=plan, at=now, by=None)
    referral_for(plan.animal, service_kinds=["spot"])
    with pytest.raises(Refused, match="names other services"):
        run_plan(plan=plan, at=now, by=None)
    PlanPhase.objects.filter(plan=plan).update(full_every=None)
    assert run_plan(plan=plan, at=now, by=None).state == Plan.State.RUNNING


def test_a_review_is_written_down_with_the_next_date(now):
    plan = review_plan(plan=PlanFactory(review_on=MONDAY), next_on=date(2026, 3, 20), at=now, by=None)
    assert (plan.reviewed_on, plan.review_on) == (MONDAY, date(2026, 3, 20))


def test_a_next_review_that_is_not_ahead_is_refused(now):
    with pytest.raises(Refused, match="after today"):
        review_plan(plan=PlanFactory(), next_on=MONDAY, at=now, by=None)


def test_versions_are_numbered_and_earlier_ones_stay(now):
    guideline = GuidelineFactory()
    for every in (3, 4):
        publish_version(
            guideline=guideline,
            source="My own years",
            phases=[Phase(days=28, full_every=every)],
            tolerance_days=1,
            spot_needs_full_within=3,
            until_vet_says=False,
            at=now,
            by=None,
        )
    assert [version.number for version in guideline.versions.all()] == [2, 1]


@pytest.mark.parametrize(
    ("source", "phases", "sentence"),
    [("  ", [Phase(days=7, full_every=3)], "where the guideline comes from"), ("Own", [], "at least one phase")],
)
def test_a_version_without_source_or_phases_is_refused(now, source, phases, sentence):
    with pytest.raises(Refused, match=sentence):
        publish_version(
            guideline=GuidelineFactory(),
            source=source,
            phases=phases,
            tolerance_days=1,
            spot_needs_full_within=3,
            until_vet_says=False,
            at=now,
            by=None,
        )


def test_starting_texts_are_marked_and_never_for_a_goal_that_needs_the_vet(now):
    added = add_starter_guidelines(at=now, by=None)
    assert {guideline.goal for guideline in added} == {Goal.UPKEEP, Goal.EVENT}
    assert all("Common practice" in guideline.versions.get().source for guideline in added)
    assert not any(guideline.needs_vet for guideline in added)


def test_starting_texts_are_added_once(now):
    add_starter_guidelines(at=now, by=None)
    assert add_starter_guidelines(at=now, by=None) == []
    assert Guideline.objects.count() == 2
