"""What a worked hour brings when the driving counts: the minutes and miles of a day fall on the work that caused them.

Common practice, no published source: a day's driving is shared among its stops in proportion to the drive that each
would cause alone, there and back; within a stop, by hands-on minutes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from billing.money.rounding import round_money

NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Hours:
    """Minutes of each kind, and metres driven; exact, so that parts add up to the whole."""

    hands_on: Fraction = NOTHING
    set_up: Fraction = NOTHING
    driving: Fraction = NOTHING
    admin: Fraction = NOTHING
    metres: Fraction = NOTHING

    @property
    def minutes(self) -> Fraction:
        return self.hands_on + self.set_up + self.driving + self.admin

    def __add__(self, other: "Hours") -> "Hours":
        return Hours(
            self.hands_on + other.hands_on,
            self.set_up + other.set_up,
            self.driving + other.driving,
            self.admin + other.admin,
            self.metres + other.metres,
        )

    def part(self, share: Fraction) -> "Hours":
        return Hours(
            self.hands_on * share, self.set_up * share, self.driving * share, self.admin * share, self.metres * share
        )


def shares(weights: Sequence[int | Decimal | Fraction]) -> list[Fraction]:
    """The part of each in the sum of all, equal where the sum is nothing; the parts add up to one."""
    exact = [Fraction(weight) for weight in weights]
    whole = sum(exact, NOTHING)
    return [weight / whole if whole else Fraction(1, len(exact)) for weight in exact]


def per_hour(money: Decimal | Fraction, costs: Decimal | Fraction, minutes: Fraction, currency: str) -> Decimal | None:
    """(Money − costs) / hours, rounded; None without time. The rule is that of a quote's earnings."""
    return round_money((Fraction(money) - Fraction(costs)) * 60 / minutes, currency) if minutes else None
