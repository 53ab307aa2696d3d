"""Values over time as plain numbers that a template draws. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from backoffice.ui.ticks import nice_step
from clients.animals.scales import Scale, say_number

WIDTH, HEIGHT = 350, 170
LEFT, RIGHT, TOP, BOTTOM = 50, 16, 16, 34


@dataclass(frozen=True, slots=True)
class Dot:
    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Line:
    """One series, such as "before" and "after"; `name` is empty where there is only one."""

    name: str
    dots: tuple[Dot, ...]

    @property
    def points(self) -> str:
        return " ".join(f"{dot.x},{dot.y}" for dot in self.dots)


@dataclass(frozen=True, slots=True)
class Chart:
    """Pixel positions in a WIDTH × HEIGHT box. Upward is more of the scale, which says nothing of better or worse."""

    lines: tuple[Line, ...]
    value_ticks: tuple[Tick, ...]
    day_ticks: tuple[tuple[float, date, str], ...]
    left: int = LEFT
    right: int = WIDTH - RIGHT
    bottom: int = HEIGHT - BOTTOM
    width: int = WIDTH
    height: int = HEIGHT


Series = tuple[str, Sequence[tuple[date, Decimal]]]


def draw(scale: Scale, series: Sequence[Series]) -> Chart | None:
    """The chart of all that was measured on one scale; None with fewer than two days, which make no course."""
    days = sorted({day for _, rows in series for day, _ in rows})
    if len(days) < 2:
        return None
    ticks = value_ticks(scale, [value for _, rows in series for _, value in rows])
    low, high = ticks[0], ticks[-1]
    span = (days[-1] - days[0]).days

    def across(day: date) -> float:
        return round(LEFT + 8 + (day - days[0]).days / span * (WIDTH - LEFT - RIGHT - 16), 1)

    def upward(value: Decimal) -> float:
        return round(HEIGHT - BOTTOM - float((value - low) / (high - low)) * (HEIGHT - TOP - BOTTOM), 1)

    lines = tuple(
        Line(name, tuple(Dot(across(day), upward(value), say_number(value)) for day, value in rows))
        for name, rows in series
        if rows
    )
    ends = ((across(days[0]), days[0], "start"), (across(days[-1]), days[-1], "end"))
    return Chart(lines, tuple(Tick(upward(tick), say_number(tick)) for tick in ticks), ends)


def value_ticks(scale: Scale, values: Sequence[Decimal]) -> list[Decimal]:
    """The marks of a scale that has ends of its own; else round steps from below the least to above the most."""
    if scale.marks:
        return [Decimal(mark) for mark in scale.marks]
    step = max(nice_step(max(max(values) - min(values), Decimal(1))), scale.step)
    first, last = (int((end / step).to_integral_value(way)) for end, way in _ends(values))
    return [step * number for number in range(first, max(last, first + 1) + 1)]


def _ends(values: Sequence[Decimal]) -> tuple[tuple[Decimal, str], tuple[Decimal, str]]:
    return (min(values), ROUND_FLOOR), (max(values), ROUND_CEILING)
