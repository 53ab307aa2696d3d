"""Microchip numbers. Source: ISO 11784/11785 for the layout (value from memory: 15 digits, 3 of country or maker,
12 of the animal, 999 for tests, identity below 2^38); the two example numbers are values from memory too."""

import pytest

from clients.animals.microchip import country_of, problem_with_microchip, tidy_microchip

MAKER = "968000004531234"  # value from memory: a maker's code
AUSTRIA = "040098100111917"  # value from memory: ISO 3166-1 numeric 040 is Austria


@pytest.mark.parametrize("number", [MAKER, AUSTRIA])
def test_the_two_known_numbers_pass(number):
    assert problem_with_microchip(number) == ""


def test_the_country_is_read_from_the_first_three_digits():
    assert country_of(AUSTRIA) == "AT"
    assert country_of(MAKER) is None


def test_999_is_a_test_chip():
    assert "test chip" in problem_with_microchip("999000000000001")


def test_the_identity_has_38_bits():
    largest = f"{2**38 - 1:012d}"
    assert problem_with_microchip("968" + largest) == ""
    assert "larger than a chip can hold" in problem_with_microchip("968" + f"{2**38:012d}")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("96800000453123", "has 15 digits; this one has 14"),
        ("9680000045312345", "has 15 digits; this one has 16"),
        ("25000100155928M", "digits only"),
        ("٩٦٨٠٠٠٠٠٤٥٣١٢٣٤", "digits only"),
        ("001000000000001", "neither a country nor a maker"),
        ("", "digits only"),
    ],
)
def test_what_is_wrong_is_said_in_words(number, words):
    assert words in problem_with_microchip(number)


def test_spaces_and_hyphens_are_no_fault():
    assert tidy_microchip(" 968 000-004 531.234 ") == MAKER
