import json

import pytest
from django import forms
from django.core.exceptions import ValidationError

from backoffice.ui.signature import MOST_POINTS, SignatureField, drawn

GOOD = [[[0, 0], [500, 200], [1000, 400]], [[10, 10]]]


def test_a_drawn_signature_is_read_as_strokes():
    assert SignatureField().clean(json.dumps(GOOD)) == GOOD


@pytest.mark.parametrize(
    "sent",
    [
        "not json",
        "{}",
        "7",
        "[[]]",
        "[[[1]]]",
        "[[[1, 2, 3]]]",
        '[[["a", 2]]]',
        "[[[1.5, 2]]]",
        "[[[true, 2]]]",
        "[[[-1, 2]]]",
        "[[[1, 1001]]]",
        "[" * 100_000,
        json.dumps([[[1, 1]] * (MOST_POINTS + 1)]),
        "[" + " " * 5_000_000 + "]",
    ],
)
def test_anything_else_is_refused_with_a_sentence(sent):
    with pytest.raises(ValidationError, match="could not be read"):
        SignatureField().clean(sent)


def test_nothing_drawn_is_empty_or_missing():
    assert SignatureField(required=False).clean("") == []
    with pytest.raises(ValidationError):
        SignatureField().clean("[]")


def test_it_is_drawn_again_as_one_path():
    svg = drawn(GOOD)
    assert 'd="M0 0 L500 200 L1000 400 M10 10 L10 10"' in svg
    assert "style" not in svg


def test_the_pad_keeps_what_was_drawn_and_works_without_inline_script():
    class SignForm(forms.Form):
        strokes = SignatureField()

    html = str(SignForm({"strokes": '[[[1, 2]]] "<script>"'})["strokes"])
    assert "[[[1, 2]]] &quot;&lt;script&gt;&quot;" in html
    assert "<script" not in html
    assert "print this page and sign it with a pen" in html
