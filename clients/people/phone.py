"""Phone numbers as people give them: tidied where a rule is known, kept as typed where none is."""

import re
import unicodedata

import phonenumbers

EXTENSION = re.compile(r"(?:;?\s*(?:ext\.?|extension|x)\s*(\d{1,7}))\s*$", re.IGNORECASE)
LONGEST = 40
LETTERS = "A phone number has no letters, except an extension at its end, such as “ext. 12”."
TOO_SHORT = "This is too short for a phone number. Write it as you would dial it."
TOO_LONG = "This is too long for one phone number: at most 15 digits, and an extension."


def tidy_phone(typed: str, region: str) -> str:
    """The number in its usual form: as dialed inside `region` (ISO 3166, such as US), with +code for another country.

    A number that no numbering plan knows (a local one without area code) stays as typed, spaces apart. Digits of any
    script become 0–9. Raises ValueError with a sentence for letters and for an impossible length (ITU-T E.164: 15).
    """
    text = " ".join(unicodedata.normalize("NFKC", typed).split())
    if not text:
        return ""
    extension = EXTENSION.search(text)
    body = text[: extension.start()] if extension else text
    if any(letter.isalpha() for letter in body):
        raise ValueError(LETTERS)
    digits = phone_digits(body)
    if len(digits) < 5:
        raise ValueError(TOO_SHORT)
    if len(digits) > 15 or len(text) > LONGEST:
        raise ValueError(TOO_LONG)
    return _in_usual_form(text, region)


def _in_usual_form(text: str, region: str) -> str:
    try:
        number = phonenumbers.parse(text, region)
    except phonenumbers.NumberParseException:
        return text
    if not phonenumbers.is_valid_number(number):
        return text
    at_home = phonenumbers.country_code_for_region(region) == number.country_code
    form = phonenumbers.PhoneNumberFormat.NATIONAL if at_home else phonenumbers.PhoneNumberFormat.INTERNATIONAL
    return phonenumbers.format_number(number, form)


def phone_digits(text: str) -> str:
    """The digits alone, as 0–9: what two writings of one number have in common."""
    return "".join(str(unicodedata.digit(sign)) for sign in text if sign.isdigit())


def same_phone(one: str, other: str) -> bool:
    """Whether two writings end in the same seven to ten digits, whatever the code before and the extension after."""
    left, right = (phone_digits(EXTENSION.sub("", text)) for text in (one, other))
    shared = min(len(left), len(right), 10)
    return shared >= 7 and left[-shared:] == right[-shared:]
