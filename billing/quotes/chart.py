"""The picture of a comparison: cost across, guideline covered upward, as plain numbers that a template draws."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from backoffice.ui.ticks import nice_step
from billing.quotes.comparison import OptionMeasures
from billing.quotes.labels import Box, place_labels

WIDTH, HEIGHT = 350, 300
LEFT, RIGHT, TOP, BOTTOM = 50, 30, 24, 34
PLOT = Box(LEFT + 2, TOP - 14, WIDTH - 2, HEIGHT - BOTTOM - 4)


@dataclass(frozen=True, slots=True)
class Point:
    """An option as a dot with its name near it; `anchor` is SVG's text-anchor, `led` asks for a line to the name."""

    name: str
    label: str
    x: float
    y: float
    label_x: float
    label_y: float
    anchor: str
    led: bool
    frontier: bool
    total: Decimal
    percent: int

    @property
    def lead_x(self) -> float:
        return self.x if self.anchor == "middle" else self.label_x

    @property
    def lead_y(self) -> float:
        """Where a line from the dot meets the name: at its nearer side."""
        return self.label_y + 2 if self.label_y < self.y else self.label_y - 12


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    label: str | Decimal


@dataclass(frozen=True, slots=True)
class Chart:
    """Pixel positions in a WIDTH × HEIGHT box; the cost axis begins at zero."""

    points: tuple[Point, ...]
    frontier_line: str
    cost_ticks: tuple[Tick, ...]
    covered_ticks: tuple[Tick, ...]
    budget_x: float | None
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    width: int = WIDTH
    height: int = HEIGHT

    @property
    def has_budget(self) -> bool:
        return self.budget_x is not None


def draw(options: Sequence[OptionMeasures], budget: Decimal | None) -> Chart | None:
    """The chart of all options that have a coverage; None when there is nothing to compare."""
    shown = [option for option in options if option.covered is not None]
    if len(shown) < 2:
        return None
    highest = max([option.total for option in shown] + ([budget] if budget is not None else []))
    step = nice_step(highest)
    top = max(step, step * (highest / step).to_integral_value(ROUND_CEILING))

    def across(amount: Decimal) -> float:
        return round(LEFT + float(amount / top) * (WIDTH - LEFT - RIGHT), 1)

    budget_x = across(budget) if budget is not None else None
    points = _named([(option, across(option.total), _upward(option.covered)) for option in shown], budget_x)
    joined = sorted((point for point in points if point.frontier), key=lambda point: (point.total, point.percent))
    return Chart(
        points=points,
        frontier_line=" ".join(f"{point.x},{point.y}" for point in joined),
        cost_ticks=tuple(Tick(across(step * number), step * number) for number in range(int(top / step) + 1)),
        covered_ticks=tuple(Tick(_upward(Fraction(part, 4)), f"{part * 25} %") for part in range(5)),
        budget_x=budget_x,
    )


def _upward(covered: Fraction | None) -> float:
    return round(HEIGHT - BOTTOM - float(covered or 0) * (HEIGHT - TOP - BOTTOM), 1)


def _named(placed: Sequence[tuple[OptionMeasures, float, float]], budget_x: float | None) -> tuple[Point, ...]:
    """The dots from left to right, each with its name placed; those on the frontier choose first."""
    ordered = sorted(placed, key=lambda each: (not each[0].frontier, each[1], each[2]))
    joined = [(x, y) for option, x, y in ordered if option.frontier]
    upright = [(budget_x, float(TOP)), (budget_x, float(HEIGHT - BOTTOM))] if budget_x is not None else []
    labels = place_labels([(option.name, x, y) for option, x, y in ordered], PLOT, [joined, upright])
    return tuple(
        Point(
            name=option.name,
            label=label.text,
            x=x,
            y=y,
            label_x=label.x,
            label_y=label.y,
            anchor=label.anchor,
            led=label.led,
            frontier=option.frontier,
            total=option.total,
            percent=int((option.covered or 0) * 100),
        )
        for (option, x, y), label in zip(ordered, labels, strict=True)
    )
