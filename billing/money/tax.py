"""Tax on the money of one owner: on the total or on each line, on top of the prices or included in them."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from billing.money.rounding import from_units, round_money, to_units
from billing.money.shares import fit

HUNDRED = Decimal(100)


class Rounding(StrEnum):
    """Where tax is rounded; the seller elects one of the two (SSUTA §324)."""

    TOTAL = "total"
    LINE = "line"


@dataclass(frozen=True, slots=True)
class Tax:
    """A rate in percent, where it is rounded, and whether prices include it."""

    rate: Decimal = Decimal(0)
    rounding: Rounding = Rounding.TOTAL
    included: bool = False


@dataclass(frozen=True, slots=True)
class Taxed:
    """Money before tax, the tax, both together, and each line before tax: `sum(nets) == net`, `net + tax == gross`."""

    net: Decimal
    tax: Decimal
    gross: Decimal
    nets: tuple[Decimal, ...]


def apply_tax(amounts: Sequence[Decimal], tax: Tax, currency: str) -> Taxed:
    """Tax the lines of one owner at one rate.

    On top: tax = lines × rate / 100, half up, of the sum or line by line (EN 16931 BR-CO-17). Included: what is paid
    stays; net = gross / (1 + rate), half up, of the sum (each line's net by largest remainder) or line by line.
    """
    whole = sum(amounts, Decimal(0))
    if not tax.rate:
        return Taxed(net=whole, tax=whole * 0, gross=whole, nets=tuple(amounts))
    if tax.included:
        nets = _nets_by_line(amounts, tax, currency)
        net = sum(nets, Decimal(0))
        return Taxed(net=net, tax=whole - net, gross=whole, nets=nets)
    owed = _tax_on_top(amounts, whole, tax, currency)
    return Taxed(net=whole, tax=owed, gross=whole + owed, nets=tuple(amounts))


def _tax_on_top(amounts: Sequence[Decimal], whole: Decimal, tax: Tax, currency: str) -> Decimal:
    if tax.rounding == Rounding.TOTAL:
        return round_money(whole * tax.rate / HUNDRED, currency)
    by_line = sum((round_money(amount * tax.rate / HUNDRED, currency) for amount in amounts), Decimal(0))
    return max(by_line, whole * 0) if whole >= 0 else by_line  # a discount's line takes no more tax off than there was


def _nets_by_line(amounts: Sequence[Decimal], tax: Tax, currency: str) -> tuple[Decimal, ...]:
    share = 1 / (1 + Fraction(tax.rate) / 100)
    if tax.rounding == Rounding.LINE:
        return tuple(round_money(Fraction(amount) * share, currency) for amount in amounts)
    gross = [to_units(amount, currency) for amount in amounts]
    whole = sum(gross)
    sign = -1 if whole < 0 else 1
    net = to_units(round_money(Fraction(from_units(sign * whole, currency)) * share, currency), currency)
    scale = Fraction(net, sign * whole) if whole else share
    return tuple(from_units(sign * part, currency) for part in fit([sign * units * scale for units in gross], net))
