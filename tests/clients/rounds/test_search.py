import pytest

from clients.rounds import exact
from clients.rounds.search import searched_day
from clients.rounds.timing import Timing
from clients.rounds.vehicle_search import Effort
from tests.clients.rounds.days import day, everywhere, random_day, span, stop


@pytest.mark.parametrize("seed", range(30))
def test_the_search_finds_the_proven_best_of_seven_stops(seed):
    request = random_day(1_000 + seed, stops=7)
    timing = Timing.of(request)
    found = searched_day(request, Effort.for_stops(7))
    assert timing.rank(found) == timing.rank(exact.best_day(request))


def test_the_same_request_is_found_the_same_way_twice():
    request = random_day(5, stops=14)
    assert searched_day(request, Effort(200)) == searched_day(request, Effort(200))


def test_a_stop_whose_windows_are_all_over_does_not_spoil_the_rest():
    stops = [stop(f"S{i}", i, 20) for i in range(1, 12)]
    stops[3] = stop("S4", 4, 20, windows=(span("12:00", "09:00"),))
    found = searched_day(day(stops, everywhere(5, 12)), Effort(300))
    assert sorted(found.order) == [0, 1, 2, 4, 5, 6, 7, 8, 9, 10]


def test_nothing_can_be_placed():
    request = day([stop("A", 1, 20, windows=(span("12:00", "09:00"),))], everywhere(5, 2))
    assert searched_day(request, Effort(10)).visits == ()
