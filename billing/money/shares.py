"""A whole amount divided so that the parts always add up to it (largest remainder, also known as Hamilton's rule)."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import lcm

from billing.money.rounding import from_units, to_units


def largest_remainder(units: int, weights: Sequence[int | Decimal | Fraction]) -> list[int]:
    """`units` divided by `weights`: each gets the whole part of its quota, what is left goes to the largest remainders.

    Equal remainders are served in the stated order; a negative number mirrors the positive one. Raises ValueError
    if there are no weights, one is negative, or all are zero.
    """
    exact = _whole(weights)
    if any(weight < 0 for weight in exact):
        raise ValueError("a share is not negative")
    whole = sum(exact)
    if not whole:
        raise ValueError("at least one share is more than zero")
    if units < 0:
        return [-part for part in largest_remainder(-units, exact)]
    parts = [units * weight // whole for weight in exact]
    remainders = [units * weight % whole for weight in exact]
    return _rounded_up(parts, remainders, units - sum(parts))


def _whole(weights: Sequence[int | Decimal | Fraction]) -> list[int]:
    """Whole numbers in the same proportion as the weights."""
    if all(type(weight) is int for weight in weights):
        return [int(weight) for weight in weights]
    exact = [Fraction(weight) for weight in weights]
    scale = lcm(*(weight.denominator for weight in exact))
    return [int(weight * scale) for weight in exact]


def _rounded_up(parts: list[int], remainders: Sequence[int | Fraction], missing: int) -> list[int]:
    """The parts with one more each for the `missing` largest remainders, equal ones in the stated order."""
    for place in sorted(range(len(parts)), key=lambda place: -remainders[place])[:missing]:
        parts[place] += 1
    return parts


def fit(quotas: Sequence[Fraction], units: int) -> list[int]:
    """Whole numbers next to `quotas` that add up to `units`: all rounded down, then the largest remainders up.

    The quotas may be of both signs; their sum must be within one per quota of `units`.
    """
    parts = [quota.numerator // quota.denominator for quota in quotas]
    remainders = [quota - part for quota, part in zip(quotas, parts, strict=True)]
    return _rounded_up(parts, remainders, units - sum(parts))


def split_amount(amount: Decimal, weights: Sequence[int | Decimal | Fraction], currency: str) -> list[Decimal]:
    """`amount` divided by `weights` in whole minor units of `currency`; the parts add up to it.

    Raises ValueError for an amount that is not whole in minor units, and as `largest_remainder` does.
    """
    return [from_units(part, currency) for part in largest_remainder(to_units(amount, currency), weights)]


def next_part(amounts: Sequence[Decimal], *, before: Decimal, now: Decimal, currency: str) -> list[Decimal]:
    """What a payment of `now`, after `before`, holds of each of the `amounts` that are asked for together.

    Cumulative, so that the payments of a whole hold exactly the amounts, in whatever steps. Amounts may be of both
    signs; their sum must not be zero.
    """
    units = [to_units(amount, currency) for amount in amounts]
    whole = sum(units)

    def until(paid: Decimal) -> list[int]:
        so_far = to_units(paid, currency)
        return fit([Fraction(so_far, whole) * amount for amount in units], so_far)

    pairs = zip(until(before + now), until(before), strict=True)
    return [from_units(after - earlier, currency) for after, earlier in pairs]
