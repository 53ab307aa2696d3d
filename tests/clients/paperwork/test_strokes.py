import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.paperwork.strokes import checked, ink, read_strokes, svg_path

coordinate = st.integers(0, 1000) | st.floats(0, 1000)
drawn = st.lists(st.lists(st.tuples(coordinate, coordinate).map(list), max_size=20), max_size=20)


def test_a_line_is_read_and_drawn_again():
    strokes = read_strokes("[[[0, 10], [100, 10.5]], [[500, 200], [400, 200]]]")
    assert svg_path(strokes) == "M0 10 L100 10.5 M500 200 L400 200"
    assert ink(strokes) == pytest.approx(200, abs=0.1)


def test_a_dot_beside_a_line_is_drawn():
    assert svg_path([[(1, 2)], [(0, 0), (100, 0)]]) == "M1 2 L1 2 M0 0 L100 0"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "did not arrive whole"),
        ("{}", "did not arrive whole"),
        ("null", "did not arrive whole"),
        ("[[[1, 2, 3]]]", "did not arrive whole"),
        ("[[[1, NaN], [1, 2]]]", "did not arrive whole"),
        ("[[[1, Infinity], [1, 2]]]", "did not arrive whole"),
        ("[[[true, false], [1, 2]]]", "did not arrive whole"),
        ("[[[-1, 0], [900, 900]]]", "did not arrive whole"),
        ('[[["<script>", 0], [900, 900]]]', "did not arrive whole"),
        ("[" * 100_000, "did not arrive whole"),
        ("[[[" + "9" * 5000 + ", 1], [1, 1]]]", "did not arrive whole"),
        ("[]", "is missing"),
        ("[[], []]", "is missing"),
        ("[[[5, 5]]]", "only a dot"),
        ("[[[5, 5], [9, 9]]]", "only a dot"),
        (json.dumps([[[0, 0], [900, 900]]] * 301), "too long"),
        (json.dumps([[[0, 0]] * 20_001]), "too long"),
    ],
)
def test_what_is_no_signature_is_said_in_a_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        read_strokes(text)


@given(drawn)
def test_whatever_is_accepted_is_ink_on_the_pad(strokes):
    try:
        kept = checked(strokes)
    except ValueError:
        return
    assert ink(kept) >= 60
    assert all(0 <= x <= 1000 and 0 <= y <= 1000 for stroke in kept for x, y in stroke)
    assert svg_path(kept).count("M") == len(kept)
