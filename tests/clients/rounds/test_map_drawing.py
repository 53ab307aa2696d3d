"""The drawn map: distances, north, names that do not cover each other."""

import math
from itertools import combinations
from random import Random

import pytest
from pyproj import Geod

from clients.rounds.map_drawing import LABEL_WIDTH, LINE, Spot, draw

GEOD = Geod(ellps="WGS84")
MILE = 1609.344
BASE = Spot("Base", 39.35, -104.6)


def drawn(stops, base=BASE):
    return draw(base, stops, unit_metres=MILE, unit="mi")


def some_stops(seed: int, count: int) -> list[Spot]:
    dice = Random(seed)
    return [
        Spot(f"Barn {number}", 39.35 + dice.uniform(-0.3, 0.3), -104.6 + dice.uniform(-0.4, 0.4), number)
        for number in range(1, count + 1)
    ]


@pytest.mark.parametrize("seed", range(8))
def test_distances_are_true_to_a_percent_of_the_geodesic(seed):
    """Against the geodesic of PROJ on the WGS84 ellipsoid, over a day's extent of some forty miles."""
    drawing = drawn(some_stops(seed, 8))
    for here, there in combinations(drawing.marks, 2):
        on_paper = math.hypot(here.x - there.x, here.y - there.y) * drawing.metres_a_unit
        spots = here.spot, there.spot
        _, _, true = GEOD.inv(spots[0].longitude, spots[0].latitude, spots[1].longitude, spots[1].latitude)
        assert on_paper == pytest.approx(true, rel=0.01, abs=drawing.metres_a_unit)


def test_the_scale_bar_is_as_long_as_it_says():
    drawing = drawn(some_stops(1, 6))
    length, unit = drawing.bar_words.split()
    assert unit == "mi"
    assert drawing.bar * drawing.metres_a_unit == pytest.approx(float(length) * MILE, rel=0.01)
    assert drawing.bar < drawing.width / 3


def test_north_is_up_and_east_is_right():
    marks = {mark.spot.name: mark for mark in drawn([Spot("N", 39.5, -104.6, 1), Spot("E", 39.35, -104.3, 2)]).marks}
    assert marks["N"].y < marks["Base"].y
    assert marks["E"].x > marks["Base"].x


@pytest.mark.parametrize("seed", range(8))
def test_everything_is_inside_and_no_name_covers_another(seed):
    drawing = drawn(some_stops(seed, 12))
    boxes = []
    for mark in drawing.marks:
        assert 0 < mark.x < drawing.width
        assert 0 < mark.y < drawing.height
        long = LABEL_WIDTH * len(mark.spot.name)
        start = mark.label_x - long if mark.anchor == "end" else mark.label_x
        boxes.append((start, start + long, mark.label_y))
    for (a, b, y), (c, d, z) in combinations(boxes, 2):
        assert b <= c or d <= a or abs(y - z) >= LINE


def test_a_barn_driven_to_twice_is_one_mark_on_a_longer_way():
    stop = Spot("Copper Hasp", 39.5, -104.6, 1)
    drawing = drawn([stop, Spot("Old Cistern", 39.6, -104.7, 2), Spot("Copper Hasp", 39.5, -104.6, 3)])
    assert len(drawing.marks) == 3
    assert len(drawing.way.split()) == 5


@pytest.mark.parametrize("stops", [[], [Spot("Here", 39.35, -104.6, 1)], [Spot("Far", 60.0, 10.0, 1)]])
def test_no_stop_one_at_home_and_one_across_the_sea_are_drawn(stops):
    drawing = drawn(stops)
    assert drawing.height > 0
    assert drawing.bar > 0
