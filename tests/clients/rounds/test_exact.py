import pytest

from clients.rounds import exact
from clients.rounds.solver import plan_day
from clients.rounds.timing import Timing
from tests.clients.rounds.days import day, everywhere, random_day, stop
from tests.clients.rounds.reference import best_figures


@pytest.mark.parametrize("block", range(2))
def test_six_stop_days_are_the_best_of_all_orders_in_every_figure(block):
    for seed in range(block * 30, block * 30 + 30):
        request = random_day(seed, stops=6)
        timing = Timing.of(request)
        # `plan_day` inspects what it returns, and raises for a broken rule.
        plan_day(request)
        assert timing.rank(exact.best_day(request))[:11] == best_figures(request), f"seed {seed}"


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
