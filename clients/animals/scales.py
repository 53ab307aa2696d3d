"""The scales on which a horse is measured over time: named, bounded, never judged here. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

TENTH = Decimal("0.1")
CM_PER_INCH = Decimal("2.54")
POUNDS_PER_KG = Decimal("2.20462262")
TAPE_DIVISOR = Decimal(11_900)


@dataclass(frozen=True, slots=True)
class Scale:
    """`low` and `high` bound what can be written down.

    `marks` are the numbers beside a chart, where the scale has ends of its own; `whose` names who gives the value where
    it is not the practitioner.
    """

    name: str
    title: str
    source: str
    unit: str
    low: Decimal
    high: Decimal
    step: Decimal
    marks: tuple[int, ...] = ()
    whose: str = ""

    def fault(self, value: Decimal) -> str:
        """Why the value cannot be written down, in one sentence; empty where it can."""
        if not self.low <= value <= self.high:
            return f"{self.title} is between {self.low} and {self.high}{f' {self.unit}' if self.unit else ''}."
        if (value - self.low) % self.step:
            return f"{self.title} goes in steps of {self.step}."
        return ""


def _scale(name: str, title: str, source: str, unit: str = "", **more: object) -> Scale:
    bounds = {bound: Decimal(str(more.pop(bound))) for bound in ("low", "high", "step")}
    return Scale(name, title, source, unit, **bounds, **more)  # type: ignore[arg-type]


ALL = (
    _scale(
        "condition",
        "Body condition",
        "Henneke body condition score (1983): 1 poor, 5 moderate, 9 extremely fat.",
        low=1,
        high=9,
        step="0.5",
        marks=(1, 3, 5, 7, 9),
    ),
    _scale(
        "tape",
        "Weight by tape",
        "An estimate: girth × girth × length ÷ 11,900, in centimeters (Carroll and Huntington, 1988).",
        "kg",
        low=20,
        high=1500,
        step="0.1",
    ),
    _scale("weighed", "Weight on a scale", "As the scale showed it.", "kg", low=20, high=1500, step="0.1"),
    _scale("heart", "Heart rate at rest", "Beats a minute, counted.", "a minute", low=10, high=300, step=1),
    _scale("breathing", "Breathing rate at rest", "Breaths a minute, counted.", "a minute", low=2, high=200, step=1),
    _scale(
        "grimace",
        "Horse Grimace Scale",
        "Six units of 0 to 2, added up by whoever scored it (PLoS ONE 9(3): e92281). We do not score it.",
        low=0,
        high=12,
        step=1,
        marks=(0, 4, 8, 12),
        whose="whoever scored it",
    ),
    _scale(
        "lameness",
        "Lameness grade",
        "AAEP grade 0 to 5, the vet’s to give: copied here with the vet’s name and the day.",
        low=0,
        high=5,
        step="0.5",
        marks=(0, 1, 2, 3, 4, 5),
        whose="the vet",
    ),
)
EASE = _scale(
    "ease",
    "Ease, before and after a session",
    "The practitioner’s own scale of 0 to 10, from the visits.",
    low=0,
    high=10,
    step=1,
    marks=(0, 5, 10),
)
SCALES: Mapping[str, Scale] = {scale.name: scale for scale in ALL}


def weight_by_tape(girth: Decimal, length: Decimal) -> Decimal:
    """An estimate in kg, to a tenth, from heart girth and body length (point of shoulder to point of buttock) in cm.

    girth² × length ÷ 11,900 (Carroll and Huntington, Equine Veterinary Journal 20(1), 1988).
    """
    return (girth * girth * length / TAPE_DIVISOR).quantize(TENTH, rounding=ROUND_HALF_UP)


def to_cm(inches: Decimal) -> Decimal:
    return (inches * CM_PER_INCH).quantize(TENTH, rounding=ROUND_HALF_UP)


def to_pounds(kg: Decimal) -> int:
    return int((kg * POUNDS_PER_KG).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def say_number(value: Decimal) -> str:
    """Without zeros behind the point: "5", "5.5", "474.5"."""
    text = f"{value:,.1f}"
    return text.removesuffix(".0")
