"""The drawing of the horse: every place of the body once on each side, a box to tick for eye, finger and keyboard."""

import re

from django.template.loader import render_to_string

from clients.animals.areas import FULL_BODY


def test_each_place_stands_once_on_each_side_and_is_named():
    drawing = render_to_string("clients/visits/_horse_drawing.html", {"worked": None, "is_active": True})
    places = re.findall(r'<path class="area[^>]*>', drawing)
    found = [
        (re.search(r'data-area="([^"]+)"', place)[1], re.search(r'data-side="(left|right)"', place)[1])
        for place in places
    ]
    assert sorted(found) == sorted((area.name, side) for area in FULL_BODY for side in ("left", "right"))
    for place, (area, side) in zip(places, found, strict=True):
        assert f'aria-label="{area}, {side} side"' in place
        assert 'role="checkbox"' in place
        assert 'tabindex="0"' in place


def test_a_drawing_to_read_hatches_what_was_worked_and_takes_no_tap():
    drawing = render_to_string("clients/visits/_horse_drawing.html", {"worked": {"Withers"}, "is_active": False})
    assert re.findall(r'class="area worked" data-area="([^"]+)" data-side="(\w+)"', drawing) == [
        ("Withers", "left"),
        ("Withers", "right"),
    ]
    assert "tabindex" not in drawing
    assert 'aria-hidden="true"' in drawing
