"""Pictures under the map: the right tiles in the right place, one host let in, nobody asked without it."""

import math
from datetime import time

import pytest
import time_machine
from django.core.exceptions import ValidationError

from backoffice.business.models import Business, is_tile_address
from clients.rounds.actions import plan_round
from clients.rounds.map_drawing import Spot, draw
from clients.rounds.map_tiles import tiles_under
from tests.factories.rounds import booked_visit
from tests.factories.visits import MONDAY

ADDRESS = "https://tiles.example:8443/{z}/{x}/{y}.png"
BASE = Spot("Base", 39.35, -104.6)
FAR = Spot("Barn", 39.6, -104.9, 1)


def mercator(latitude, longitude, zoom):
    """Column and row by the formulas of EPSG guidance note 7-2, Popular Visualisation Pseudo-Mercator; from memory."""
    row = math.log(math.tan(math.pi / 4 + math.radians(latitude) / 2)) / math.pi
    return (longitude / 360 + 0.5) * 2**zoom, (0.5 - row / 2) * 2**zoom


@pytest.mark.parametrize("stop", [FAR, Spot("Near", 39.351, -104.601, 1), Spot("Over the sea", 51.8, -2.2, 1)])
def test_each_place_lies_on_its_own_tile(stop):
    drawing = draw(BASE, [stop], unit_metres=1609.344, unit="mi")
    tiles = tiles_under(drawing, "{z} {x} {y}")
    assert 1 <= len(tiles) <= 16
    assert all(tile.width <= 256.1 for tile in tiles)
    for mark in drawing.marks:
        zoom = int(tiles[0].href.split()[0])
        column, row = mercator(mark.spot.latitude, mark.spot.longitude, zoom)
        (tile,) = [each for each in tiles if each.href == f"{zoom} {int(column)} {int(row)}"]
        assert mark.x == pytest.approx(tile.x + (column % 1) * tile.width, abs=0.2)
        if stop.name != "Over the sea":  # there a tile spans degrees that bend
            assert mark.y == pytest.approx(tile.y + (row % 1) * tile.height, abs=0.3)


def test_the_tiles_cover_all_of_it_and_join():
    drawing = draw(BASE, [FAR], unit_metres=1609.344, unit="mi")
    tiles = tiles_under(drawing, ADDRESS)
    assert min(tile.x for tile in tiles) <= 0
    assert min(tile.y for tile in tiles) <= 0
    assert max(tile.x + tile.width for tile in tiles) >= drawing.width
    assert max(tile.y + tile.height for tile in tiles) >= drawing.height
    edges = {round(tile.x + tile.width, 1) for tile in tiles} & {round(tile.x, 1) for tile in tiles}
    assert len(edges) == len({tile.x for tile in tiles}) - 1


@pytest.mark.parametrize(
    "address",
    [
        "tiles/{z}/{x}/{y}",
        "ftp://tiles.example/{z}/{x}/{y}",
        "https://tiles.example/{z}/{x}",
        "https://tiles.example/{z}/{x}/{y}/{key}",
        "https://tiles.example/{z}/{x}/{y",
        "https://tiles.example; script-src */{z}/{x}/{y}",
        "https://*.example/{z}/{x}/{y}",
        "https://tiles.example/{z}/{x}/{y} ",
    ],
)
def test_other_addresses_are_refused(address):
    with pytest.raises(ValidationError):
        is_tile_address(address)


def test_a_whole_address_is_taken():
    is_tile_address(ADDRESS)
    is_tile_address("http://tiles.example/map?z={z}&x={x}&y={y}")


@pytest.mark.django_db
def test_only_with_an_address_and_only_here_one_host_is_let_in(business, owner_manager, now, as_assistant):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        booked_visit(owner_manager, starts=time(9))
        path = plan_round(day=MONDAY, practitioner=owner_manager, at=now, by=owner_manager).get_absolute_url()
        plain = as_assistant.get(path)
        Business.objects.update(tile_address=ADDRESS, tile_credit="Map data by its makers")
        tiled, elsewhere = as_assistant.get(path), as_assistant.get("/diary/")
    assert "<image" not in plain.content.decode()
    assert "tiles.example" not in plain["Content-Security-Policy"]
    html = tiled.content.decode()
    assert 'href="https://tiles.example:8443/' in html
    assert "Map data by its makers" in html
    policy = {part.split()[0]: part.split()[1:] for part in tiled["Content-Security-Policy"].split("; ")}
    assert policy["img-src"] == ["'self'", "data:", "https://tiles.example:8443"]
    assert policy["script-src"] == ["'self'"]
    assert "tiles.example" not in elsewhere["Content-Security-Policy"]
