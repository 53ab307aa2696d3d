"""Tax categories of EN 16931 (UNCL 5305), from what the practitioner recorded. Pure."""

from decimal import Decimal

STANDARD, ZERO, EXEMPT, OUTSIDE = "S", "Z", "E", "O"


def tax_category(percent: Decimal | None, text: str) -> str:
    """No rate recorded: outside the scope of tax. A rate of nothing: exempt where a reason is recorded, else zero."""
    if percent is None:
        return OUTSIDE
    if percent:
        return STANDARD
    return EXEMPT if text else ZERO
