import pytest

from clients.animals.areas import FULL_BODY, names_same_place


@pytest.mark.parametrize(
    ("area", "caution", "same"),
    [
        ("Hocks", "Near hock", True),
        ("Head and poll", "head", True),
        ("Near shoulder", "Near hock", False),
        ("Back, both sides", "Both hocks", False),
        ("Knees", "", False),
    ],
)
def test_a_caution_finds_its_place_by_a_telling_word(area, caution, same):
    assert names_same_place(area, caution) is same


def test_the_body_is_worked_from_the_forehand_to_the_lower_legs():
    groups = list(dict.fromkeys(area.group for area in FULL_BODY))
    assert groups[0] == "Forehand"
    assert groups[-1] == "Lower legs last"
    assert [area.name for area in FULL_BODY if not area.is_offered] == ["Head and poll"]
