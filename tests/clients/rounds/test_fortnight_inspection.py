from dataclasses import replace

import pytest

from clients.rounds import planner
from clients.rounds.fortnight import Placed, PlanRequest, Reason
from clients.rounds.fortnight_inspection import faults
from clients.rounds.planner import plan_days
from clients.rounds.solver import BrokenPlan
from clients.rounds.vehicle_search import Effort
from tests.clients.rounds.test_planner import NINE_TO_FIVE, due, everywhere, fixed, random_weeks, shifts

QUICK = Effort(300)
REQUEST = PlanRequest(
    drive=everywhere(3),
    dues=(
        fixed("known", on=3),
        due("a", 2, around=1, horse="h", tolerance=2, persons=("A",)),
        due("b", 2, around=3, horse="h"),
    ),
    shifts=shifts(days=range(6), people=("A", "B")),
    windows={2: {day: (NINE_TO_FIVE,) for day in range(5)}},
)
PLAN = plan_days(REQUEST, QUICK)


def moved(**places):
    return replace(PLAN, placed={**PLAN.placed, **{key: Placed(*where) for key, where in places.items()}})


def test_a_right_plan_has_no_fault():
    assert faults(REQUEST, PLAN) == []


@pytest.mark.parametrize(
    ("plan", "sentence"),
    [
        (replace(PLAN, placed={}), "known is told of 0 times."),
        (replace(PLAN, unplaced={"a": Reason.NO_ROOM}), "a is told of 2 times."),
        (moved(x=(1, "A")), "x was not asked for."),
        (moved(known=(2, "A")), "known is known to its owner for day 3, but moves to day 2."),
        (moved(a=(5, "A")), "a is on day 5, which its plan does not tolerate."),
        (moved(a=(5, "A")), "a is on day 5, when its barn takes nobody."),
        (moved(a=(1, "B")), "a is made by B, who may not."),
        (moved(a=(6, "A")), "a is on day 6, when A does not work."),
        (moved(a=(3, "A"), b=(3, "A")), "b is not at least a day after a of the same horse."),
        (replace(PLAN, drive_before=1), "The drive before is "),
        (replace(PLAN, drive_after=1), "The drive after is "),
    ],
)
def test_each_broken_rule_is_told(plan, sentence):
    assert any(fault.startswith(sentence) for fault in faults(REQUEST, plan))


def test_a_mistake_of_the_search_never_leaves_as_a_plan(monkeypatch):
    monkeypatch.setattr(planner, "_searched", lambda *_: moved(a=(1, "B")))
    with pytest.raises(BrokenPlan, match="who may not"):
        plan_days(REQUEST, QUICK)


@pytest.mark.parametrize("seed", range(100, 160))
def test_random_weeks_are_planned_without_a_fault(seed):
    request = random_weeks(seed, dues=10)
    assert faults(request, plan_days(request, Effort(150))) == []
