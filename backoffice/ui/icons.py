"""The one icon set, drawn for this project: strokes on a 24-unit square, colored by the text around them."""

from functools import cache
from pathlib import Path

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

FOLDER = Path(__file__).parent / "icons"


@cache
def drawing(name: str) -> SafeString:
    """The strokes of one icon, as they stand in its file. Raises FileNotFoundError for a name that nobody drew."""
    text = (FOLDER / f"{name}.svg").read_text(encoding="utf-8")
    inside = text[text.index(">") + 1 : text.rindex("</svg>")]
    return mark_safe(" ".join(inside.split()))


def icon(name: str, label: str = "") -> SafeString:
    """The icon as inline SVG, hidden from screen readers unless `label` says what it means alone."""
    if label:
        said = format_html('role="img" aria-label="{}"', label)
    else:
        said = mark_safe('aria-hidden="true" focusable="false"')
    return format_html('<svg class="icon" viewBox="0 0 24 24" {}>{}</svg>', said, drawing(name))
