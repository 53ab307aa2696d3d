"""Amounts and counts written out, for the reason of a charge and for refusals."""

from decimal import Decimal

from babel.numbers import format_currency

from billing.money.rounding import round_money

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def say_amount(amount: Decimal, currency: str) -> str:
    """The amount with the sign and all decimals of its currency: “$1,250.00”."""
    return str(format_currency(round_money(amount, currency), currency, locale="en_US"))


def ordinal(number: int) -> str:
    """“third” for 3; from eleven on in figures, “11th”."""
    if number <= len(ORDINALS):
        return ORDINALS[number - 1]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
