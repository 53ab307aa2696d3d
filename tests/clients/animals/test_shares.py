from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.animals.shares import FINEST, UNREADABLE, parse_share, problem_with, say_share


@pytest.mark.parametrize(
    ("typed", "share"),
    [
        ("50 %", Fraction(1, 2)),
        ("50", Fraction(1, 2)),
        ("12.5%", Fraction(1, 8)),
        ("12,5 %", Fraction(1, 8)),
        ("1/3", Fraction(1, 3)),
        (" 1 / 3 ", Fraction(1, 3)),
        ("½", Fraction(1, 2)),
        ("100 percent", Fraction(1)),
        ("٥٠ ٪", None),
    ],
)
def test_shares_are_read_as_percentages_or_fractions(typed, share):
    if share is None:
        with pytest.raises(ValueError, match="such as 50 %"):
            parse_share(typed)
    else:
        assert parse_share(typed) == share


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("130 %", "130 % is more than the whole horse."),
        ("5/4", "125 % is more than the whole horse."),
        ("0", "A share of nothing is no share: leave the line empty."),
        ("0/5", "A share of nothing is no share: leave the line empty."),
        ("1/0", UNREADABLE),
        ("-20 %", UNREADABLE),
        ("half", UNREADABLE),
        ("", UNREADABLE),
        ("😀", UNREADABLE),
        ("<script>", UNREADABLE),
        ("9" * 5000, UNREADABLE),
        ("1/10001", "This share is finer than one ten-thousandth. Round it, or write it as a fraction."),
        ("33.33333 %", "This share is finer than one ten-thousandth. Round it, or write it as a fraction."),
    ],
)
def test_what_is_no_share_gets_a_sentence(typed, sentence):
    with pytest.raises(ValueError, match=".") as refusal:
        parse_share(typed)
    assert str(refusal.value) == sentence


def test_a_share_is_said_as_percentage_where_that_is_exact():
    said = [say_share(Fraction(*pair)) for pair in ((1, 2), (1, 8), (1, 3), (1, 1), (13, 10))]
    assert said == ["50 %", "12.5 %", "1/3", "100 %", "130 %"]


@pytest.mark.parametrize(
    ("shares", "sentence"),
    [
        ([], "A horse needs at least one owner."),
        ([Fraction(1, 2), Fraction(3, 10)], "The shares add up to 80 %: 20 % is missing."),
        ([Fraction(4, 5), Fraction(1, 2)], "The shares add up to 130 %: 30 % too much."),
        (
            [Fraction(3333, 10000)] * 3,
            "The shares add up to 99.99 %: 0.01 % is missing. For thirds, write 1/3.",
        ),
        ([Fraction(3, 2), Fraction(-1, 2)], "Each share must be more than nothing."),
        ([Fraction(1, 3)] * 3, ""),
        ([Fraction(1, 2), Fraction(3, 10), Fraction(1, 5)], ""),
    ],
)
def test_shares_make_one_whole_horse_or_a_sentence_says_what_is_wrong(shares, sentence):
    assert problem_with(shares) == sentence


@given(st.lists(st.fractions(min_value=0, max_value=1, max_denominator=FINEST), max_size=6))
def test_shares_sum_to_one_or_are_refused(shares):
    sums_up = bool(shares) and min(shares) > 0 and sum(shares) == 1
    assert (problem_with(shares) == "") is sums_up


@given(st.fractions(min_value=Fraction(1, FINEST), max_value=1, max_denominator=FINEST))
def test_what_is_said_is_read_back_as_the_same_share(share):
    assert parse_share(say_share(share)) == share
