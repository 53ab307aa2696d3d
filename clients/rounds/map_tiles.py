"""Pictures of a tile server under our own drawing, by an address that the practitioner set.

The tiles are squares of the Web Mercator projection (EPSG:3857) in the usual order of {z}/{x}/{y}; each is placed by
its own corners, so that it lies right under a drawing of another projection.
"""

import math
from dataclasses import dataclass

from clients.rounds.map_drawing import METRES_A_DEGREE, Drawing

LARGEST = 256.0  # units of the drawing
DEEPEST = 19


@dataclass(frozen=True, slots=True)
class Tile:
    href: str
    x: float
    y: float
    width: float
    height: float


def tiles_under(drawing: Drawing, address: str) -> list[Tile]:
    """The tiles that cover the drawing, each at most 256 units wide; `address` holds {z}, {x} and {y}."""
    across = METRES_A_DEGREE * math.cos(drawing.middle) / drawing.metres_a_unit
    up = METRES_A_DEGREE / drawing.metres_a_unit
    zoom = min(DEEPEST, max(0, math.ceil(math.log2(360 * across / LARGEST))))
    east = drawing.west + drawing.width / across
    south = drawing.north - drawing.height / up
    first_x, last_x = (math.floor(_column(lon, zoom)) for lon in (drawing.west, east))
    first_y, last_y = (math.floor(_row(lat, zoom)) for lat in (drawing.north, south))
    tiles = []
    for x in range(first_x, last_x + 1):
        for y in range(first_y, last_y + 1):
            left, right = ((_longitude(each, zoom) - drawing.west) * across for each in (x, x + 1))
            top, bottom = ((drawing.north - _latitude(each, zoom)) * up for each in (y, y + 1))
            href = address.format(z=zoom, x=x % tiles_across(zoom), y=y)
            tiles.append(Tile(href, round(left, 2), round(top, 2), round(right - left, 2), round(bottom - top, 2)))
    return tiles


def tiles_across(zoom: int) -> int:
    return 1 << zoom


def _column(longitude: float, zoom: int) -> float:
    return (longitude + 180) / 360 * tiles_across(zoom)


def _row(latitude: float, zoom: int) -> float:
    return (1 - math.asinh(math.tan(math.radians(latitude))) / math.pi) / 2 * tiles_across(zoom)


def _longitude(column: float, zoom: int) -> float:
    return column / tiles_across(zoom) * 360 - 180


def _latitude(row: float, zoom: int) -> float:
    return math.degrees(math.atan(math.sinh(math.pi * (1 - 2 * row / tiles_across(zoom)))))
