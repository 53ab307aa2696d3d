from datetime import date

import pytest

from clients.plans.cadence import Kind
from clients.plans.queries import guideline_of, latest_versions, planned_sessions, plans_to_review, schedule_of
from tests.factories.clients import GuidelineFactory, GuidelinePhaseFactory, GuidelineVersionFactory
from tests.factories.plans import PlanFactory, PlanPhaseFactory

MONDAY = date(2026, 3, 2)
pytestmark = pytest.mark.django_db


def test_the_schedule_of_a_plan_is_what_the_engine_takes():
    plan = PlanPhaseFactory(plan__days_off=["SU", "2026-03-17"], plan__on_day_off="next").plan
    schedule = schedule_of(plan)
    assert schedule.days == 28
    assert {date(2026, 3, 8), date(2026, 3, 17)} <= schedule.days_off.within(plan.start, plan.days)


def test_planned_sessions_stay_in_the_term_of_the_plan():
    plan = PlanPhaseFactory(plan__days=7).plan
    sessions = planned_sessions(plan).sessions
    assert [session.on.day for session in sessions if session.kind == Kind.FULL] == [2, 5, 8]
    assert max(session.on for session in sessions) == plan.last_day


def test_the_guideline_of_a_version_carries_its_limits():
    version = GuidelinePhaseFactory(version__tolerance_days=2, version__spot_needs_full_within=5).version
    guideline = guideline_of(version)
    assert (guideline.tolerance_days, guideline.spot_needs_full_within, len(guideline.phases)) == (2, 5, 1)


def test_only_the_newest_version_of_each_guideline_is_offered():
    first, second = GuidelineFactory(), GuidelineFactory()
    GuidelineVersionFactory(guideline=first, number=1)
    newest = GuidelineVersionFactory(guideline=first, number=2)
    only = GuidelineVersionFactory(guideline=second, number=1)
    assert set(latest_versions()) == {newest, only}


@pytest.mark.parametrize(
    ("facts", "is_due"),
    [
        ({"review_on": date(2026, 3, 1)}, True),
        ({"review_on": date(2026, 3, 5)}, True),
        ({"review_on": date(2026, 3, 6)}, False),
        ({"review_on": None}, False),
        ({"review_on": date(2026, 3, 1), "reviewed_on": date(2026, 3, 1)}, False),
        ({"review_on": date(2026, 3, 1), "reviewed_on": date(2026, 2, 1)}, True),
        ({"review_on": date(2026, 3, 1), "state": "stopped"}, False),
        ({"review_on": date(2026, 3, 1), "state": "paused"}, True),
    ],
)
def test_a_plan_is_to_review_when_its_day_comes(facts, is_due):
    PlanFactory(**facts)
    assert plans_to_review(MONDAY).exists() is is_due
