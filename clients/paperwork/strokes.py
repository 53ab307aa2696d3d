"""A drawn signature: strokes as lists of points between 0 and 1000, checked, and drawn again as an SVG path."""

import json
import math
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]
Strokes = Sequence[Sequence[Point]]

SIDE = 1000
MOST_STROKES = 300
MOST_POINTS = 20_000
LEAST_INK = 60.0  # shorter than this is a dot or a slip of the finger


def read_strokes(text: str) -> list[list[Point]]:
    """Strokes from the JSON of the pad. ValueError, with a sentence, for anything else."""
    try:
        drawn = json.loads(text)
    except (ValueError, RecursionError):
        raise ValueError("The signature did not arrive whole. Draw it again.") from None
    return checked(drawn)


def checked(drawn: object) -> list[list[Point]]:
    """The strokes as points. ValueError when none is drawn, when it is only a dot, or when it is not strokes at all."""
    strokes = [_stroke(one) for one in _list(drawn)]
    strokes = [stroke for stroke in strokes if stroke]
    if not strokes:
        raise ValueError("The signature is missing: draw it in the box.")
    if len(strokes) > MOST_STROKES or sum(len(stroke) for stroke in strokes) > MOST_POINTS:
        raise ValueError("The signature is too long. Clear the box and draw it again.")
    if ink(strokes) < LEAST_INK:
        raise ValueError("That is only a dot: draw the signature in the box.")
    return strokes


def ink(strokes: Strokes) -> float:
    """Length of all lines, in thousandths of the pad's side."""
    return sum(math.dist(here, there) for stroke in strokes for here, there in pairwise(stroke))


def svg_path(strokes: Strokes) -> str:
    """The `d` of one SVG path with a line for each stroke."""
    return " ".join(
        "M" + " L".join(f"{x:g} {y:g}" for x, y in (stroke if len(stroke) > 1 else [*stroke, *stroke]))
        for stroke in strokes
    )


def _list(value: object) -> list[object]:
    if not isinstance(value, list | tuple):
        raise ValueError("The signature did not arrive whole. Draw it again.")
    return list(value)


def _stroke(value: object) -> list[Point]:
    return [_point(point) for point in _list(value)]


def _point(value: object) -> Point:
    point = _list(value)
    if len(point) != 2 or not all(_is_on_pad(side) for side in point):
        raise ValueError("The signature did not arrive whole. Draw it again.")
    x, y = point
    return (float(str(x)), float(str(y)))


def _is_on_pad(side: object) -> bool:
    return isinstance(side, int | float) and not isinstance(side, bool) and 0 <= side <= SIDE
