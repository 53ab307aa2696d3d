"""The sums of an invoice: its lines taxed by the rate of their category and day of work, rate by rate."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.einvoice.categories import OUTSIDE, tax_category
from billing.invoices.models import InvoiceLine
from billing.money.rounding import round_money
from billing.money.tax import Rounding, Tax, apply_tax
from billing.prices.models import TaxRate
from billing.prices.queries import PriceBook


@dataclass(frozen=True, slots=True)
class TaxGroup:
    """What one rate is counted on. `rate` is None where no rate is recorded: no tax."""

    rate: TaxRate | None
    base: Decimal
    tax: Decimal

    @property
    def category(self) -> str:
        """By UNCL 5305, as an e-invoice names it."""
        return tax_category(self.rate.percent, self.rate.text) if self.rate else OUTSIDE


@dataclass(frozen=True, slots=True)
class Totals:
    """Before tax, tax, to pay; each line before tax, and the group that it is in."""

    net: Decimal
    tax: Decimal
    total: Decimal
    groups: tuple[TaxGroup, ...]
    nets: tuple[Decimal, ...]
    of_lines: tuple[TaxGroup, ...]


def totals_of(lines: Sequence[InvoiceLine], book: PriceBook, currency: str) -> Totals:
    """Lines must have `charge_share.charge` loaded. Tax is rounded once for each rate (EN 16931 BR-CO-17), or on
    each line, as the rules of the last day of work say."""
    rates = tuple(_rate_of(line, book) for line in lines)
    rules = book.rules_on(max((line.charge_share.charge.work_day for line in lines), default=date.min))
    rounding = Rounding(rules.tax_rounding)
    nets = [Decimal(0)] * len(lines)
    groups: list[TaxGroup] = []
    of_lines: dict[int, TaxGroup] = {}
    for terms in dict.fromkeys(map(_terms, rates)):
        places = [place for place, other in enumerate(rates) if _terms(other) == terms]
        rate = rates[places[0]]
        amounts = [round_money(lines[place].amount, currency) for place in places]
        tax = Tax(rate.percent, rounding, rate.is_included) if rate else Tax()
        taxed = apply_tax(amounts, tax, currency)
        group = TaxGroup(rate, taxed.net, taxed.tax)
        for place, net in zip(places, taxed.nets, strict=True):
            nets[place], of_lines[place] = net, group
        groups.append(group)
    net = sum((group.base for group in groups), Decimal(0))
    tax_sum = sum((group.tax for group in groups), Decimal(0))
    in_order = tuple(of_lines[place] for place in range(len(lines)))
    return Totals(net, tax_sum, net + tax_sum, tuple(groups), tuple(nets), in_order)


def _terms(rate: TaxRate | None) -> tuple[Decimal, bool, str] | None:
    """Rates recorded on different days that say the same count as one."""
    return (rate.percent, rate.is_included, rate.text) if rate else None


def _rate_of(line: InvoiceLine, book: PriceBook) -> TaxRate | None:
    charge = line.charge_share.charge
    return book.tax_rate_of(charge.tax_category, line.charge_share.payer_id, charge.work_day)
