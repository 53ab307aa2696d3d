"""Shares of a horse as exact fractions: read from what people type, checked to make one whole."""

import re
import unicodedata
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

FINEST = 10_000
PERCENT = re.compile(r"(\d{1,9}(?:[.,]\d{1,9})?)\s*(?:%|percent)?", re.IGNORECASE)
PARTS = re.compile(r"(\d{1,9})\s*/\s*(\d{1,9})")
UNREADABLE = "Write a share as a percentage or a fraction, such as 50 % or 1/3."


def parse_share(typed: str) -> Fraction:
    """The share as an exact fraction above 0 and at most 1: “50 %”, “50”, “12.5 %”, “1/3”, “½”.

    Raises ValueError with a sentence for anything else: nothing, more than the whole, finer than one ten-thousandth.
    """
    text = unicodedata.normalize("NFKC", typed).replace("\N{FRACTION SLASH}", "/").strip()
    share = _read(text)
    if share == 0:
        raise ValueError("A share of nothing is no share: leave the line empty.")
    if share > 1:
        raise ValueError(f"{say_share(share)} is more than the whole horse.")
    if share.denominator > FINEST:
        raise ValueError("This share is finer than one ten-thousandth. Round it, or write it as a fraction.")
    return share


def _read(text: str) -> Fraction:
    parts = PARTS.fullmatch(text)
    if parts and int(parts[2]) > 0:
        return Fraction(int(parts[1]), int(parts[2]))
    percent = PERCENT.fullmatch(text)
    if percent:
        return Fraction(percent[1].replace(",", ".")) / 100
    raise ValueError(UNREADABLE)


def say_share(share: Fraction) -> str:
    """In words: “50 %”, “12.5 %”, and “1/3” where no percentage of two decimals says it exactly."""
    hundredths = share * 10_000
    if hundredths.denominator != 1:
        return f"{share.numerator}/{share.denominator}"
    return f"{(Decimal(hundredths.numerator) / 100).normalize():f} %"


def problem_with(shares: Sequence[Fraction]) -> str:
    """A sentence when the shares do not make exactly one whole horse, else an empty string."""
    if not shares:
        return "A horse needs at least one owner."
    if min(shares) <= 0:
        return "Each share must be more than nothing."
    total = sum(shares, Fraction(0))
    if total == 1:
        return ""
    gap = say_share(abs(1 - total))
    thirds = " For thirds, write 1/3." if Fraction(99, 100) <= total < 1 else ""
    if total < 1:
        return f"The shares add up to {say_share(total)}: {gap} is missing.{thirds}"
    return f"The shares add up to {say_share(total)}: {gap} too much."
