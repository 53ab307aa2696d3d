"""The search that shares out drives, against published instances with a known best.

Sources: Solomon (1987), "Algorithms for the vehicle routing and scheduling problems with time window constraints", in
the files of PyVRP/VRPLIB, 25 customers, distances cut off after one decimal (the value of RC105 is from memory); TSPLIB
(Reinelt 1991), EUC_2D and GEO.
"""

from itertools import pairwise

import pytest

from clients.rounds.vehicle_search import Effort
from tests.benchmarks.instances import BEST_OF_25, DATA, read
from tests.benchmarks.rounds import solved_by_us

pytestmark = pytest.mark.skipif(not (DATA / "solomon").exists(), reason="the instances of ../shared are not here")
QUICK = Effort(500)


def solved(name: str, customers: int | None = None) -> float:
    return solved_by_us(read(name, customers), QUICK).cost


@pytest.mark.parametrize("name", sorted(BEST_OF_25))
def test_solomon_with_25_customers_is_the_best_known(name):
    assert solved(name, 25) == BEST_OF_25[name]


@pytest.mark.parametrize(("name", "optimum"), [("burma14", 3323), ("ulysses16", 6859), ("berlin52", 7542)])
def test_tsplib_tours_are_the_shortest(name, optimum):
    assert solved(name) == optimum


@pytest.mark.parametrize("name", ["C101", "R104", "RC201"])
def test_the_published_rounds_cost_what_is_published_by_our_reading_of_the_distances(name):
    instance = read(name)
    lines = (DATA / "solomon" / f"{name}.sol").read_text().splitlines()
    rounds = [[0, *map(int, line.split(":")[1].split()), 0] for line in lines if line.startswith("Route")]
    total = sum(instance.distance[a][b] for way in rounds for a, b in pairwise(way))
    assert total / instance.unit == instance.best_known
