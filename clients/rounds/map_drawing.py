"""The day's stops as a drawing of our own: nothing is asked of any host. Distances on it are true to about a percent.

An equirectangular projection about the middle of the day's places: right enough over the few dozen miles of a round.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

METRES_A_DEGREE = 111_320.0
MARGIN, LINE = 30.0, 20.0
LABEL_WIDTH = 8.2
LENGTHS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
LONGEST_BAR = 0.3
LOWEST, HIGHEST = 0.45, 0.72
SMALLEST_SPAN = 800.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the day in degrees: the base, or a stop with its number."""

    name: str
    latitude: float
    longitude: float
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a place is drawn, and its name beside it."""

    spot: Spot
    x: float
    y: float
    label_x: float
    label_y: float
    anchor: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """`way` is the list of points of the line from base to base; `bar` the length of the scale bar of `bar_words`.

    `west` and `north` are the degrees of the upper left corner, `middle` the latitude in radians that it is true at.
    """

    width: float
    height: float
    marks: tuple[Mark, ...]
    way: str
    bar: float
    bar_words: str
    metres_a_unit: float
    west: float
    north: float
    middle: float

    @property
    def foot(self) -> float:
        """Where the scale bar stands."""
        return self.height - 10

    @property
    def north_x(self) -> float:
        return self.width - 22


def draw(base: Spot, stops: Sequence[Spot], *, unit_metres: float, unit: str, width: float = 380.0) -> Drawing:
    """Base and stops in their order; stops at one place share a mark with all their numbers in the name."""
    spots = [base, *_together(stops)]
    middle = math.radians(sum(spot.latitude for spot in spots) / len(spots))
    east = [spot.longitude * METRES_A_DEGREE * math.cos(middle) for spot in spots]
    north = [spot.latitude * METRES_A_DEGREE for spot in spots]
    across, up = max(east) - min(east), max(north) - min(north)
    span = max(across, SMALLEST_SPAN)
    metres_a_unit = span / (width - 2 * MARGIN)
    height = min(width * HIGHEST, max(width * LOWEST, up / metres_a_unit + 2 * MARGIN + LINE))
    metres_a_unit = max(metres_a_unit, up / (height - 2 * MARGIN - LINE))
    left = (width - across / metres_a_unit) / 2
    top = (height - LINE - up / metres_a_unit) / 2
    points = [
        (left + (x - min(east)) / metres_a_unit, top + (max(north) - y) / metres_a_unit)
        for x, y in zip(east, north, strict=True)
    ]
    at = {(spot.latitude, spot.longitude): point for spot, point in zip(spots, points, strict=True)}
    road = [base, *stops, base] if stops else []
    bar, words = _bar(width, metres_a_unit, unit_metres, unit)
    return Drawing(
        width=width,
        height=round(height, 1),
        marks=tuple(_labelled(spots, points, width)),
        way=" ".join(f"{x:.1f},{y:.1f}" for x, y in (at[spot.latitude, spot.longitude] for spot in road)),
        bar=round(bar, 1),
        bar_words=words,
        metres_a_unit=metres_a_unit,
        west=(min(east) - left * metres_a_unit) / METRES_A_DEGREE / math.cos(middle),
        north=(max(north) + top * metres_a_unit) / METRES_A_DEGREE,
        middle=middle,
    )


def _together(stops: Sequence[Spot]) -> list[Spot]:
    """One spot a place; a barn that is driven to twice bears the number of its first stop."""
    seen: dict[tuple[float, float], Spot] = {}
    for stop in stops:
        seen.setdefault((stop.latitude, stop.longitude), stop)
    return list(seen.values())


def _bar(width: float, metres_a_unit: float, unit_metres: float, unit: str) -> tuple[float, str]:
    longest = width * LONGEST_BAR * metres_a_unit / unit_metres
    length = max((each for each in LENGTHS if each <= longest), default=LENGTHS[0])
    return length * unit_metres / metres_a_unit, f"{length:g} {unit}"


def _labelled(spots: Sequence[Spot], points: Sequence[tuple[float, float]], width: float) -> list[Mark]:
    """Names right of their marks, or left where the edge is near, moved down until none covers another."""
    marks: list[Mark] = []
    taken: list[tuple[float, float, float]] = []
    for spot, (x, y) in sorted(zip(spots, points, strict=True), key=lambda pair: pair[1][1]):
        long = LABEL_WIDTH * len(spot.name)
        is_left = x + 14 + long > width
        start = x - 14 - long if is_left else x + 14
        label_y = y + 5
        while any(abs(label_y - other) < LINE and start < end and begin < start + long for begin, end, other in taken):
            label_y += 4
        taken.append((start, start + long, label_y))
        marks.append(
            Mark(
                spot=spot,
                x=round(x, 1),
                y=round(y, 1),
                label_x=round(x - 14 if is_left else x + 14, 1),
                label_y=round(label_y, 1),
                anchor="end" if is_left else "start",
            )
        )
    return marks
