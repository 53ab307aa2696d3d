"""A part of a sum of money, by percentage or by amount: a discount, a booking deposit."""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from billing.money.rounding import minor_digits, round_money

HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True)
class Portion:
    """Either `percent` or `amount`. Raises ValueError for both or neither."""

    percent: Decimal | None = None
    amount: Decimal | None = None

    def __post_init__(self) -> None:
        if (self.percent is None) == (self.amount is None):
            raise ValueError("a portion has a percentage or an amount")

    def of(self, whole: Decimal, currency: str) -> Decimal:
        """The percentage of `whole`, half up, or the amount; never more than `whole`."""
        if self.percent is not None:
            return min(round_money(whole * self.percent / HUNDRED, currency), whole)
        return min(self.amount or Decimal(0), whole)

    def of_each(self, charge: Decimal, currency: str) -> Decimal:
        """The percentage of one charge of several, rounded up; nothing for an amount, which is no part of a charge.

        Charges that are discounted one by one so never ask for more than their sum discounted at once.
        """
        exact = charge * (self.percent or Decimal(0)) / HUNDRED
        return min(exact.quantize(Decimal(1).scaleb(-minor_digits(currency)), rounding=ROUND_CEILING), charge)


@dataclass(frozen=True, slots=True)
class Discount:
    """What is taken off, and why."""

    portion: Portion
    reason: str
