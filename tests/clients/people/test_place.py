import pytest

from clients.people.place import UNREADABLE, km_between, parse_place, say_place


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        ("39.5, -104.72", (39.5, -104.72)),
        ("39.5 -104.72", (39.5, -104.72)),
        ("39.5;−104.72", (39.5, -104.72)),
        ("39.5° N, 104.72° W", (39.5, -104.72)),
        ("33.9 S 18.4 E", (-33.9, 18.4)),
        ("0, 0", (0, 0)),
    ],
)
def test_a_place_is_read_as_maps_give_it(typed, place):
    assert parse_place(typed) == place


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("-104.72, 39.5", "Are the two numbers the wrong way round?"),
        ("139.5, 204", "A latitude lies between -90 and 90; this is 139.5."),
        ("39.5, 204", "A longitude lies between -180 and 180; this is 204."),
        ("39.5", UNREADABLE),
        ("39.5, 104.7, 3", UNREADABLE),
        ("the red gate", UNREADABLE),
        ("39.5 W, 104.7 N", UNREADABLE),
        ("😀, 😀", UNREADABLE),
        ("1" * 5000, UNREADABLE),
    ],
)
def test_what_is_no_place_gets_a_sentence(typed, sentence):
    with pytest.raises(ValueError, match=".") as refusal:
        parse_place(typed)
    assert sentence in str(refusal.value)


def test_a_place_said_is_read_back():
    assert parse_place(say_place(39.4512, -104.72031)) == (39.4512, -104.7203)


def test_the_distance_is_about_right():
    assert km_between((40.6, -73.8), (51.6, -0.5)) == pytest.approx(5550, rel=0.01)  # value from memory
    assert km_between((39.5, -104.7), (39.5, -104.7)) == 0
