"""A signature drawn on a screen: read from a form, and drawn again on a page or in a PDF."""

import json
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString

ACROSS, DOWN = 1000, 400
MOST_POINTS = 20_000
LONGEST = 400_000

Strokes = list[list[list[int]]]


def read_strokes(text: str) -> Strokes:
    """The strokes in the JSON of the pad: lists of [x, y], x from 0 to 1000 and y, at the same scale, from 0 to 400.

    Raises ValueError for anything else.
    """
    if len(text) > LONGEST:
        raise ValueError("too long")
    found = json.loads(text)
    if not isinstance(found, list) or not all(isinstance(stroke, list) and stroke for stroke in found):
        raise ValueError("not a list of strokes")
    points = [point for stroke in found for point in stroke]
    if len(points) > MOST_POINTS or not all(_is_point(point) for point in points):
        raise ValueError("not points of the pad")
    return found


def _is_point(point: Any) -> bool:
    if not isinstance(point, list) or len(point) != 2 or not all(type(number) is int for number in point):
        return False
    x, y = point
    return bool(0 <= x <= ACROSS and 0 <= y <= ACROSS)


def drawn(strokes: Strokes) -> SafeString:
    """The signature as inline SVG."""
    path = " ".join(
        "M" + " L".join(f"{x} {y}" for x, y in (stroke if stroke[1:] else stroke * 2)) for stroke in strokes
    )
    return format_html(
        '<svg class="signature-drawn" viewBox="0 0 {} {}" role="img" aria-label="Drawn signature"><path d="{}"/></svg>',
        ACROSS,
        DOWN,
        path,
    )


class SignaturePad(forms.Widget):
    """The pad of `ui/_signature.html`; the page loads `js/signature.js`."""

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        described = (attrs or {}).get("aria-describedby", "")
        context = {"name": name, "value": value or "", "described": described}
        return render_to_string("ui/_signature.html", context)

    def id_for_label(self, id_: str) -> str:
        return id_


class SignatureField(forms.Field):
    """Cleans to `Strokes`; an empty list when it is not required and nothing was drawn."""

    widget = SignaturePad

    def to_python(self, value: Any) -> Strokes:
        if not value:
            return []
        try:
            return read_strokes(str(value))
        except (ValueError, RecursionError) as wrong:
            raise ValidationError("The signature could not be read. Clear it and sign again.") from wrong
