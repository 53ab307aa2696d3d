"""The picture of a comparison: cost across, guideline covered upward, as plain numbers that a template draws."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from billing.quotes.comparison import OptionMeasures

WIDTH, HEIGHT = 480, 300
LEFT, RIGHT, TOP, BOTTOM = 52, 16, 18, 40
LINE_HEIGHT = 17
NICE_STEPS = (1, 2, 5, 10)
TICKS = 4


@dataclass(frozen=True, slots=True)
class Point:
    """An option as a dot with its name beside it; `anchor` is SVG's text-anchor."""

    name: str
    x: float
    y: float
    label_x: float
    label_y: float
    anchor: str
    frontier: bool
    total: Decimal
    percent: int


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


def draw(options: Sequence[OptionMeasures], budget: Decimal | None) -> Chart | None:
    """The chart of all options that have a coverage; None when there is nothing to compare."""
    shown = [option for option in options if option.covered is not None]
    if len(shown) < 2:
        return None
    highest = max([option.total for option in shown] + ([budget] if budget is not None else []))
    step = nice_step(highest)
    top = step * -(-highest // step) or step

    def across(amount: Decimal) -> float:
        return round(LEFT + float(amount / top) * (WIDTH - LEFT - RIGHT), 1)

    points = _with_labels([(option, across(option.total), _upward(option.covered)) for option in shown])
    joined = sorted((point for point in points if point.frontier), key=lambda point: (point.total, point.percent))
    return Chart(
        points=points,
        frontier_line=" ".join(f"{point.x},{point.y}" for point in joined),
        cost_ticks=tuple(Tick(across(step * number), step * number) for number in range(int(top / step) + 1)),
        covered_ticks=tuple(Tick(_upward(Fraction(part, 4)), f"{part * 25} %") for part in range(5)),
        budget_x=across(budget) if budget is not None else None,
    )


def nice_step(highest: Decimal) -> Decimal:
    """A round distance between ticks (1, 2 or 5 times a power of ten), so that about four reach `highest`."""
    if highest <= 0:
        return Decimal(1)
    rough = highest / TICKS
    power = Decimal(10) ** rough.adjusted()
    return next(power * nice for nice in NICE_STEPS if power * nice >= rough)


def _upward(covered: Fraction | None) -> float:
    return round(HEIGHT - BOTTOM - float(covered or 0) * (HEIGHT - TOP - BOTTOM), 1)


def _with_labels(placed: Sequence[tuple[OptionMeasures, float, float]]) -> tuple[Point, ...]:
    """Each name beside its dot, to the left in the right third, and moved down where it would cover another."""
    points: list[Point] = []
    for option, x, y in sorted(placed, key=lambda each: (each[2], each[1])):
        leftward = x > LEFT + (WIDTH - LEFT - RIGHT) * 0.66
        label_y = y + 5
        while any(abs(label_y - other.label_y) < LINE_HEIGHT and abs(x - other.x) < 150 for other in points):
            label_y += LINE_HEIGHT
        covered = option.covered or Fraction(0)
        points.append(
            Point(
                name=option.name,
                x=x,
                y=y,
                label_x=x - 10 if leftward else x + 10,
                label_y=min(label_y, HEIGHT - BOTTOM - 4),
                anchor="end" if leftward else "start",
                frontier=option.frontier,
                total=option.total,
                percent=int(covered * 100),
            )
        )
    return tuple(points)
