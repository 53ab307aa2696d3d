"""Tax of a period, category by category and rate by rate: by the date of invoices, or by the date of payments. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from billing.money.shares import next_part

CATEGORIES = {"S": "Taxable", "Z": "Zero rate", "E": "Exempt", "O": "Outside of tax"}
Terms = tuple[str, str]  # category of UNCL 5305, percent


@dataclass(frozen=True, slots=True)
class TaxLine:
    """One category and rate: what it was charged on, and the tax."""

    category: str
    percent: str
    base: Decimal
    tax: Decimal

    @property
    def words(self) -> str:
        rate = f" at {self.percent} %" if self.category == "S" else ""
        return f"{CATEGORIES[self.category]}{rate}"

    @property
    def amounts(self) -> tuple[tuple[str, Decimal], ...]:
        return (("before tax", self.base), ("tax", self.tax))


def of_paper(groups: Iterable[Mapping[str, Any]], sign: int = 1) -> list[TaxLine]:
    """The groups of an issued paper as frozen; `sign` is -1 for a credit note."""
    return [
        TaxLine(group["category"], group["percent"] or "0", sign * Decimal(group["base"]), sign * Decimal(group["tax"]))
        for group in groups
    ]


def part_of_paper(lines: Sequence[TaxLine], *, before: Decimal, now: Decimal, currency: str) -> list[TaxLine]:
    """What a payment of `now`, after `before`, holds of each base and tax: together exactly the payment."""
    amounts = [amount for line in lines for amount in (line.base, line.tax)]
    if not sum(amounts):
        return []
    held = next_part(amounts, before=before, now=now, currency=currency)
    pairs = zip(held[::2], held[1::2], strict=True)
    return [TaxLine(line.category, line.percent, base, tax) for line, (base, tax) in zip(lines, pairs, strict=True)]


def summed(lines: Iterable[TaxLine]) -> list[TaxLine]:
    """One line for each category and rate: taxable from the highest rate down, then zero, exempt, outside."""
    sums: dict[Terms, tuple[Decimal, Decimal]] = {}
    for line in lines:
        base, tax = sums.get((line.category, line.percent), (Decimal(0), Decimal(0)))
        sums[line.category, line.percent] = (base + line.base, tax + line.tax)
    order = {category: place for place, category in enumerate(CATEGORIES)}
    ordered = sorted(sums.items(), key=lambda item: (order[item[0][0]], -Decimal(item[0][1])))
    return [TaxLine(category, percent, base, tax) for (category, percent), (base, tax) in ordered]
