"""Universal Equine Life Number. Source: the layout published at ueln.net (15 alphanumeric characters: 3 of the country,
ISO 3166-1 numeric, 3 of the database, 9 of the horse), with its two example numbers."""

import pytest

from clients.animals.ueln import problem_with_ueln, tidy_ueln

FRANCE = "25000100155928M"
IRELAND = "372414001234567"


@pytest.mark.parametrize("number", [FRANCE, IRELAND])
def test_the_two_known_numbers_pass(number):
    assert problem_with_ueln(number) == ""


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("25000100155928", "15 letters and digits; this one has 14"),
        ("FR000100155928M", "begins with FR0"),
        ("00100100155928M", "no country's code"),
        ("250001001559_8M", "letters and digits only"),
        ("٢٥٠00100155928M", "letters and digits only"),
        ("", "letters and digits only"),
    ],
)
def test_what_is_wrong_is_said_in_words(number, words):
    assert words in problem_with_ueln(number)


def test_spaces_hyphens_and_small_letters_are_no_fault():
    assert tidy_ueln(" 250 001-00155928m ") == FRANCE
