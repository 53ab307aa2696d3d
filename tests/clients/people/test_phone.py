import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.people.phone import LETTERS, TOO_LONG, TOO_SHORT, same_phone, tidy_phone


@pytest.mark.parametrize(
    ("typed", "tidied"),
    [
        ("", ""),
        ("   ", ""),
        ("303 555 0100", "(303) 555-0100"),
        ("303.555.0100 x12", "(303) 555-0100 ext. 12"),
        ("303 555 0100 ext. 12", "(303) 555-0100 ext. 12"),
        ("+1 303 555 0100", "(303) 555-0100"),
        ("+44 20 7946 0958", "+44 20 7946 0958"),
        ("555-0100", "555-0100"),
        ("٣٠٣٥٥٥٠١٠٠", "(303) 555-0100"),
    ],
)
def test_a_number_is_tidied_or_kept_as_typed(typed, tidied):
    assert tidy_phone(typed, "US") == tidied


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1-800-HORSES", LETTERS),
        ("ask the trainer", LETTERS),
        ("123", TOO_SHORT),
        ("++", TOO_SHORT),
        ("1" * 16, TOO_LONG),
        ("😀😀", TOO_SHORT),
    ],
)
def test_what_cannot_be_a_number_gets_a_sentence(typed, sentence):
    with pytest.raises(ValueError, match="phone number|dial") as refusal:
        tidy_phone(typed, "US")
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("(303) 555-0100", "+1 303 555 0100", True),
        ("(303) 555-0100 ext. 12", "303 555 0100", True),
        ("555-0100", "(303) 555-0100", True),
        ("(303) 555-0100", "(303) 555-0101", False),
        ("", "", False),
        ("12345", "12345", False),
    ],
)
def test_two_writings_of_one_number_are_known_as_the_same(one, other, same):
    assert same_phone(one, other) is same


@given(st.text(max_size=60))
def test_any_text_is_tidied_or_refused_and_tidying_twice_changes_nothing(typed):
    try:
        tidied = tidy_phone(typed, "US")
    except ValueError:
        return
    assert tidy_phone(tidied, "US") == tidied
