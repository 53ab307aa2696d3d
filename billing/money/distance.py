"""The price of a stop by how far it is: one way, in the unit that the business drives in."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from billing.money.rounding import round_money


@dataclass(frozen=True, slots=True)
class Band:
    """Up to and with the distance `to`, a stop costs `amount`; only the last band may go on without an end."""

    amount: Decimal
    to: Decimal | None = None


def amount_by_bands(bands: Sequence[Band], distance: Decimal) -> Decimal | None:
    """The amount of the first band, in rising order, that reaches the distance; None beyond the last."""
    return next((band.amount for band in bands if band.to is None or distance <= band.to), None)


def amount_beyond_radius(free: Decimal, per_unit: Decimal, distance: Decimal, currency: str) -> Decimal:
    """Nothing within the radius `free`, and so much for each unit (and part of one) beyond it, half up."""
    return round_money(max(distance - free, Decimal(0)) * per_unit, currency)
