"""Amounts and counts written out, for the reason of a charge and for refusals."""

from decimal import Decimal

from billing.money.rounding import round_money

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def plain(amount: Decimal, currency: str) -> str:
    """The amount with all decimals of its currency and no sign for it: “1,250.00”."""
    return f"{round_money(amount, currency):,f}"


def ordinal(number: int) -> str:
    """“third” for 3; from eleven on in figures, “11th”."""
    if number <= len(ORDINALS):
        return ORDINALS[number - 1]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
