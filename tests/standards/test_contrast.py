"""Colors against WCAG 2.2: 1.4.3 (text, 4.5:1), 1.4.11 (edges of controls, 3:1), 1.4.6 (7:1), with its own formulas."""

import re
from itertools import pairwise
from pathlib import Path

import pytest

TOKENS = Path(__file__).parents[2] / "backoffice" / "ui" / "static" / "css" / "tokens.css"
TEXT_ON_GROUND = [
    *((text, ground) for text in ("ink", "soft", "green", "ochre", "brick", "slate") for ground in ("paper", "sheet")),
    *((tone, f"{tone}-tint") for tone in ("green", "ochre", "brick", "slate")),
    ("ink", "green-tint"),
    ("green-deep", "green-tint"),
    ("on-green", "green"),
    ("on-green", "green-deep"),
]
SCHEMES = ["light", "dark", "outdoor"]
EDGES = [
    ("field-line", "sheet"),
    ("field-line", "paper"),
    ("green-pale", "paper"),
    ("slate", "paper"),
    ("green", "sheet"),
]


def palette(scheme: str) -> dict[str, str]:
    text = TOKENS.read_text(encoding="utf-8")
    found = [dict(re.findall(r"--([a-z-]+): (#[0-9A-F]{6});", part)) for part in _blocks(text)]
    return found[0] | found[SCHEMES.index(scheme)]


def _blocks(text: str) -> list[str]:
    starts = ["", "@media (prefers-color-scheme: dark)", ':root[data-look="outdoor"]', "@media print"]
    at = [text.index(start) for start in starts]
    return [text[begin:end] for begin, end in pairwise(at)]


def luminance(color: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    channels = (int(color[at : at + 2], 16) / 255 for at in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_black_on_white_is_twenty_one_to_one():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("text", "ground"), TEXT_ON_GROUND)
def test_text_stands_out_from_its_ground(scheme, text, ground):
    colors = palette(scheme)
    assert contrast(colors[text], colors[ground]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_text_read_in_the_barn_stands_out_more(scheme, ground):
    colors = palette(scheme)
    assert contrast(colors["ink"], colors[ground]) >= 7  # WCAG 2.2, 1.4.6


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("edge", "ground"), EDGES)
def test_edges_of_controls_and_marks_are_seen(scheme, edge, ground):
    colors = palette(scheme)
    assert contrast(colors[edge], colors[ground]) >= 3


@pytest.mark.parametrize(("text", "ground"), TEXT_ON_GROUND)
def test_every_text_for_bright_sun_stands_out_more(text, ground):
    colors = palette("outdoor")
    assert contrast(colors[text], colors[ground]) >= 7  # WCAG 2.2, 1.4.6
