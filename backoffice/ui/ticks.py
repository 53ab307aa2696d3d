"""Round numbers beside a chart. Pure."""

from decimal import Decimal

NICE_STEPS = (1, 2, 5, 10)
TICKS = 3


def nice_step(span: Decimal) -> Decimal:
    """A round distance between ticks (1, 2 or 5 times a power of ten), so that about three reach over `span`."""
    if span <= 0:
        return Decimal(1)
    rough = span / TICKS
    power = Decimal(10) ** rough.adjusted()
    return next(power * nice for nice in NICE_STEPS if power * nice >= rough)
