"""A part of a sum of money, by percentage or by amount: a discount, a booking deposit."""

from dataclasses import dataclass
from decimal import Decimal

from billing.money.rounding import round_money

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


@dataclass(frozen=True, slots=True)
class Discount:
    """What is taken off, and why."""

    portion: Portion
    reason: str
