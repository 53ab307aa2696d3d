"""The payment reference that a bank's line can be known by. Pure."""

from stdnum import iso11649
from stdnum.iso7064 import mod_97_10


def creditor_reference(number: str) -> str:
    """A structured creditor reference (ISO 11649): RF, two check digits (ISO 7064 mod 97-10), the number's letters and
    digits. `2026-0017` gives `RF0920260017`. Raises ValueError for a number with more than 21 of them."""
    body = "".join(sign for sign in number.upper() if sign.isalnum() and sign.isascii())
    return str(iso11649.validate(f"RF{mod_97_10.calc_check_digits(f'{body}RF')}{body}"))
