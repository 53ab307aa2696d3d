"""Universal Equine Life Numbers: 15 letters and digits, 3 of the country, 3 of the database, 9 of the horse there."""

from babel.core import get_global


def tidy_ueln(typed: str) -> str:
    """The number in capitals without the spaces and hyphens people put in."""
    return "".join(sign for sign in typed.upper() if not sign.isspace() and sign not in "-.")


def problem_with_ueln(number: str) -> str:
    """What is wrong with it, in a sentence; an empty string when it can be right.

    The country is ISO 3166-1 numeric; the database has 3 letters or digits, so has the horse 9.
    """
    if not (number.isascii() and number.isalnum()):
        return "A UELN has letters and digits only."
    if len(number) != 15:
        return f"A UELN has 15 letters and digits; this one has {len(number)}."
    if not number[:3].isdigit():
        return f"A UELN begins with the three digits of a country; this one begins with {number[:3]}."
    if not get_global("territory_aliases").get(number[:3]):
        return f"It begins with {number[:3]}, which is no country's code."
    return ""
