"""Microchip numbers of ISO 11784/11785: 15 digits, of which 3 name the country or the maker and 12 the animal."""

from babel.core import get_global

LARGEST_ID = 2**38 - 1  # ISO 11784: the identification code has 38 bits
TEST_CODE = 999


def tidy_microchip(typed: str) -> str:
    """The number without the spaces and hyphens people put in."""
    return "".join(sign for sign in typed if not sign.isspace() and sign not in "-.")


def problem_with_microchip(number: str) -> str:
    """What is wrong with it, in a sentence; an empty string when it can be right.

    ISO 11784: codes below 900 are countries (ISO 3166-1 numeric), 900 to 998 makers, 999 is for tests.
    """
    if not (number.isascii() and number.isdigit()):
        return "A microchip number has digits only. A number with letters may be a passport number."
    if len(number) != 15:
        return f"A microchip number has 15 digits; this one has {len(number)}."
    code, identity = int(number[:3]), int(number[3:])
    if code == TEST_CODE:
        return "A number that begins with 999 is a test chip, not a horse's."
    if code < 900 and country_of(number) is None:
        return f"It begins with {number[:3]}, which is neither a country nor a maker of chips."
    if identity > LARGEST_ID:
        return f"Its last 12 digits are larger than a chip can hold ({LARGEST_ID:012d})."
    return ""


def country_of(number: str) -> str | None:
    """The ISO 3166 letters of a country's code, None for a maker's or an unknown one."""
    found = get_global("territory_aliases").get(number[:3])
    return found[0] if found and int(number[:3]) < 900 else None
