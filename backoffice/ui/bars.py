"""Figures as bars beside each other, each against the largest."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

WIDEST = 100


class Bar(NamedTuple):
    """`width` of WIDEST; `said` is its value in words."""

    label: str
    said: str
    width: int
    is_below: bool


class Picture(NamedTuple):
    label: str
    bars: list[Bar]
    target: Decimal | None = None


def picture(
    label: str, values: Iterable[tuple[str, Any]], say: Callable[[Any], str], target: Decimal | None = None
) -> Picture | None:
    """A bar for each name and figure; None where fewer than two have a figure, or all are nothing."""
    drawn = [(name, value) for name, value in values if value is not None]
    largest = max((abs(Fraction(value)) for _, value in drawn), default=Fraction(0))
    if len(drawn) < 2 or not largest:
        return None
    bars = [Bar(name, say(value), round(abs(Fraction(value)) * WIDEST / largest), value < 0) for name, value in drawn]
    return Picture(label, bars, target)
