import pytest

from clients.rounds import exact
from clients.rounds.day_round import LunchPlace, ReasonCode
from clients.rounds.inspection import faults
from clients.rounds.solver import plan_day
from tests.clients.rounds.days import day, everywhere, random_day, stop
from tests.clients.rounds.reference import best_figures, figures_of


@pytest.mark.parametrize("block", range(12))
def test_six_stop_days_are_the_best_of_all_orders_in_every_figure(block):
    """360 days with windows, locks, lunch, isolation, tiers and drives that differ there and back."""
    for seed in range(block * 30, block * 30 + 30):
        request = random_day(seed, stops=6)
        plan = plan_day(request)
        assert faults(request, plan) == [], f"seed {seed}"
        assert figures_of(request, plan) == best_figures(request), f"seed {seed}"


def test_the_days_enumerated_hold_every_rule():
    """That the seeds above put each rule to the test: how many of the 360 have one, and are bound by it."""
    days = [random_day(seed, stops=6) for seed in range(360)]
    plans = [plan_day(request) for request in days]
    codes = {reason.code for plan in plans for left in plan.unplaced for reason in left.reasons}
    assert codes == set(ReasonCode) - {ReasonCode.NOBODY}
    assert sum(any(stop.locked is not None for stop in request.stops) for request in days) > 100
    assert sum(len({stop.isolation for stop in request.stops}) > 1 for request in days) > 200
    assert sum(request.lunch is not None for request in days) > 200
    assert sum(bool(plan.notices) for plan in plans) > 3
    assert {plan.lunch.where for plan in plans if plan.lunch is not None} == set(LunchPlace)
    assert sum(any(request.drive[0][i] != request.drive[i][0] for i in range(7)) for request in days) > 100


def test_a_day_without_stops_is_empty():
    assert exact.best_day(day([], [[0]])).visits == ()


@pytest.mark.parametrize("seed", range(40))
def test_room_for_all_is_told_as_the_best_day_shows_it(seed):
    request = random_day(seed, stops=4)
    best = exact.best_day(request)
    whole = len(best.visits) == 4 and (request.lunch is None or best.lunch_start is not None)
    assert exact.has_room_for_all(request) == whole


def test_the_order_of_the_request_settles_two_ways_round():
    plan = plan_day(day([stop(key, place, 30) for place, key in enumerate("ABC", 1)], everywhere(10, 4)))
    assert [planned.key for planned in plan.order] == ["A", "B", "C"]
