from itertools import permutations
from random import Random

import pytest

from clients.rounds.loop import length_of, shortest_loop

LONGEST_EXACT = 7


def matrix(places: int, seed: int) -> list[list[int]]:
    """Asymmetric drives between one and sixty minutes."""
    dice = Random(seed)
    return [[0 if i == j else dice.randint(60, 3600) for j in range(places + 1)] for i in range(places + 1)]


@pytest.mark.parametrize("places", range(LONGEST_EXACT + 1))
@pytest.mark.parametrize("seed", range(6))
def test_the_loop_is_the_shortest_of_all_orders(places, seed):
    seconds = matrix(places, seed)
    best = min(length_of(seconds, order) for order in permutations(range(1, places + 1)))
    assert length_of(seconds, shortest_loop(seconds, range(1, places + 1))) == best


def test_a_longer_day_passes_every_place_once():
    order = shortest_loop(matrix(12, 1), range(1, 13))
    assert sorted(order) == list(range(1, 13))


def test_a_place_more_never_shortens_a_loop_where_drives_keep_the_triangle():
    line = [[600 * abs(i - j) for j in range(5)] for i in range(5)]
    assert length_of(line, shortest_loop(line, {1, 2})) == 2400
    assert length_of(line, shortest_loop(line, {1, 2, 4})) == 4800


def test_the_base_and_a_place_named_twice_count_once():
    seconds = matrix(3, 2)
    assert shortest_loop(seconds, [0, 2, 2, 1]) in ((1, 2), (2, 1))
    assert shortest_loop(seconds, []) == ()
