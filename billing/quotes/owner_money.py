"""What each owner pays of an option's charges, with tax, and what each horse costs before it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from billing.money.pricing import Line, What
from billing.money.shares import split_amount
from billing.money.tax import Rounding, Taxed, apply_tax
from billing.quotes.request import PricingRequest

HIRE_LINES = frozenset({What.RENT, What.DELIVERY, What.TRAINING, What.FOLLOW_UP, What.COLLECTION})
NOTHING = Decimal(0)


def owners_taxed(request: PricingRequest, lines: Sequence[Line]) -> dict[str, Taxed]:
    """Each owner's money, taxed on its own, in the order in which the owners are stated."""
    by_charge = _each_charge_counts(request)
    amounts: dict[str, list[Decimal]] = {horse.owner: [] for horse in request.horses}
    for line in lines:
        amounts[line.owner] += line.charges() if by_charge else (line.amount,)
    return {owner: apply_tax(charges, request.tax, request.currency) for owner, charges in amounts.items()}


def _each_charge_counts(request: PricingRequest) -> bool:
    """Whether tax depends on the single charges, and not only on their sum."""
    return bool(request.tax.rate) and (request.tax.included or request.tax.rounding == Rounding.LINE)


def total_of(taxed: Mapping[str, Taxed]) -> Decimal:
    return sum((each.gross for each in taxed.values()), NOTHING)


def tax_lines(request: PricingRequest, taxed: Mapping[str, Taxed]) -> tuple[Line, ...]:
    """One line of tax for each owner, unless the prices include it."""
    if request.tax.included:
        return ()
    return tuple(Line("", owner, What.TAX, 1, each.tax) for owner, each in taxed.items() if each.tax)


@dataclass(frozen=True, slots=True)
class HorseMoney:
    """The charges of one horse before tax; packages and plan months count as sessions."""

    sessions: Decimal = NOTHING
    call_out: Decimal = NOTHING
    hire: Decimal = NOTHING
    discount: Decimal = NOTHING

    @property
    def total(self) -> Decimal:
        return self.sessions + self.call_out + self.hire + self.discount


COLUMNS = ("sessions", "call_out", "hire", "discount")


def horses_before_tax(
    request: PricingRequest, lines: Sequence[Line], taxed: Mapping[str, Taxed]
) -> dict[str, HorseMoney]:
    """What each horse that is charged for costs before tax; `lines` are those that `taxed` was made of."""
    by_charge = _each_charge_counts(request)
    nets = {owner: iter(each.nets) for owner, each in taxed.items()}
    sums: dict[tuple[str, str], Decimal] = {}
    for line in lines:
        net = sum((next(nets[line.owner]) for _ in range(line.count if by_charge else 1)), NOTHING)
        for horse, part in spread(line, net, request.currency):
            key = horse, _column(line.what)
            sums[key] = sums.get(key, NOTHING) + part
    horses = {horse for horse, _column in sums}
    return {horse: HorseMoney(*(sums.get((horse, column), NOTHING) for column in COLUMNS)) for horse in horses}


def _column(what: What) -> str:
    if what in HIRE_LINES:
        return "hire"
    return what.value if what in (What.CALL_OUT, What.DISCOUNT) else "sessions"


def spread(line: Line, amount: Decimal, currency: str) -> list[tuple[str, Decimal]]:
    """The horses that an amount of a line falls on, each with its part."""
    if not line.falls_on:
        return [(line.horse, amount)]
    parts = split_amount(amount, [weight for _horse, weight in line.falls_on], currency)
    return [(horse, part) for (horse, _weight), part in zip(line.falls_on, parts, strict=True)]
