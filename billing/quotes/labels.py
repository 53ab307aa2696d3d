"""Names beside dots, placed so that no name covers another name or a dot."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

TEXT_HEIGHT = 15.0
LETTER = 7.4  # the mean width of a letter at 16 px, on the wide side
LONGEST_NAME = 22
DOT = 5.0
BESIDE = 10.0
CROSSED = 26.0  # a line through a name is as bad as a name that much further off
MISTAKEN = 40.0  # and so is a name that seems to be of another dot

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def away_from(self, spot: Spot) -> float:
        x, y = spot
        return hypot(max(self.left - x, 0, x - self.right), max(self.top - y, 0, y - self.bottom))

    def holds(self, other: "Box") -> bool:
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True, slots=True)
class Label:
    """A name and where its base line begins or ends (`anchor` is SVG's text-anchor); `led` when far from its dot."""

    text: str
    x: float
    y: float
    anchor: str
    box: Box
    led: bool = False


def place_labels(
    named: Sequence[tuple[str, float, float]], within: Box, lines: Sequence[Sequence[Spot]]
) -> list[Label]:
    """One label for each (name, x, y), in that order: the nearest free place, rather not on one of the `lines`, and
    nearer to its own dot than to another.

    A name longer than LONGEST_NAME is cut. Where there is no free place at all, the name stands beside its dot.
    """
    spots = [(x, y) for _, x, y in named]
    dots = [Box(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in spots]
    placed: list[Label] = []
    for name, x, y in named:
        text = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1].rstrip()}…"
        taken = [*dots, *(label.box for label in placed)]
        tried = [label for label in _places(text, x, y, within) if within.holds(label.box)]
        free = [label for label in tried if not any(label.box.meets(other) for other in taken)]
        others = [spot for spot in spots if spot != (x, y)]
        possible = free or tried or [next(_places(text, x, y, within))]
        placed.append(min(possible, key=lambda label: _worse(label, (x, y), others, lines)))
    return placed


def _places(text: str, x: float, y: float, within: Box) -> Iterator[Label]:
    """Right and left of the dot, level with it, then ever further up and down, centered if there is room."""
    width = len(text) * LETTER
    for step in range(17):
        for away in {step * TEXT_HEIGHT, -step * TEXT_HEIGHT}:
            middle = y + away
            top, bottom, line = middle - TEXT_HEIGHT / 2, middle + TEXT_HEIGHT / 2, middle + 5
            led = step > 1
            yield Label(text, x + BESIDE, line, "start", Box(x + BESIDE, top, x + BESIDE + width, bottom), led)
            yield Label(text, x - BESIDE, line, "end", Box(x - BESIDE - width, top, x - BESIDE, bottom), led)
            if step:
                center = min(max(x, within.left + width / 2), within.right - width / 2)
                yield Label(text, center, line, "middle", Box(center - width / 2, top, center + width / 2, bottom), led)


def _worse(label: Label, own: Spot, others: Sequence[Spot], lines: Sequence[Sequence[Spot]]) -> float:
    away = abs(label.y - 5 - own[1]) + (2 if label.anchor == "end" else 0)
    crossings = sum(1 for line in lines for one, other in pairwise(line) if crosses(label.box, one, other))
    return away + CROSSED * crossings + MISTAKEN * _seems_of_another(label, own, others)


def _seems_of_another(label: Label, own: Spot, others: Sequence[Spot]) -> bool:
    """A name that is led to its dot by a line cannot be mistaken."""
    return not label.led and any(label.box.away_from(other) <= label.box.away_from(own) for other in others)


def crosses(box: Box, one: Spot, other: Spot) -> bool:
    """Whether the straight line passes through the box: the part of it that is inside from side to side and from top
    to bottom (Liang and Barsky, 1984)."""
    enters, leaves = 0.0, 1.0
    for begin, end, low, high in zip(one, other, (box.left, box.top), (box.right, box.bottom), strict=True):
        if begin == end:
            if not low < begin < high:
                return False
        else:
            near, far = sorted(((low - begin) / (end - begin), (high - begin) / (end - begin)))
            enters, leaves = max(enters, near), min(leaves, far)
    return enters < leaves
