"""What of a sum goes back with a part of its base: in proportion, and never a cent more or less in all."""

from decimal import Decimal

from billing.money.rounding import round_money


def part_of(whole: Decimal, base: Decimal, *, before: Decimal, now: Decimal, currency: str) -> Decimal:
    """The part of `whole` that goes with `now` of `base`, after `before` of it went already.

    Each time it is the rounded part of all that went so far less what went before, so that the parts sum to `whole`
    when the base has gone (common practice for prepaid and credited amounts, no published source). A base of nothing
    takes nothing.
    """
    if not base:
        return whole * 0
    return _at(whole, base, before + now, currency) - _at(whole, base, before, currency)


def _at(whole: Decimal, base: Decimal, gone: Decimal, currency: str) -> Decimal:
    return round_money(whole * gone / base, currency)
