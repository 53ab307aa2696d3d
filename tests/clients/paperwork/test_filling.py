import pytest

from clients.paperwork.filling import FIELDS, fields_in, filled, unknown_fields
from clients.paperwork.models import Wording
from clients.paperwork.starters import STARTERS

# The customer's own list: what no text of ours may say.
FORBIDDEN = ("cure", "heal", "treat", "diagnos", "patient", "guarantee", "therap", "waive", "hold harmless", "liabil")


def test_fields_are_filled_and_what_has_no_value_is_a_line_to_see():
    assert filled("{horse} of {owner}, {agent}.", {"horse": "Biscuit", "owner": "O"}) == "Biscuit of O, ______."


def test_a_value_that_looks_like_a_field_is_not_filled_again():
    assert filled("{horse} {barn}", {"horse": "{barn}", "barn": "B"}) == "{barn} B"


@pytest.mark.parametrize("text", ["{horse.name}", "{0}", "{}", "{horse!r}", "{dog}", "{ horse }"])
def test_anything_else_in_braces_is_named_and_left_as_it_is(text):
    assert unknown_fields(text) == [text[1:-1]]
    assert filled(text, {"horse": "Biscuit"}) == text


def test_a_brace_alone_is_only_a_brace():
    assert unknown_fields("a { b } { and }{") == [" b ", " and "]
    assert unknown_fields("{" * 20_000) == []


@pytest.mark.parametrize("starter", STARTERS, ids=lambda starter: starter.kind)
def test_a_starting_text_uses_known_fields_and_promises_nothing(starter):
    assert unknown_fields(starter.text) == []
    assert fields_in(starter.text) <= set(FIELDS)
    assert starter.kind in Wording.Kind.values
    assert [word for word in FORBIDDEN if word in starter.text.lower()] == []
    assert "protect" not in starter.text.lower()
