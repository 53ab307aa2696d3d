"""The charges of one option, as lines, and what each owner pays of them."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum

from billing.money.call_out import call_out_parts, most_it_can_cost
from billing.money.hire import HireRates
from billing.money.pricing import Line, What
from billing.money.tax import Rounding, Taxed, apply_tax
from billing.quotes.laying import HorseDays, Stop
from billing.quotes.request import PricingRequest
from clients.plans.cadence import Kind, PlannedSession

HIRE_LINES = frozenset({What.RENT, What.DELIVERY, What.TRAINING, What.FOLLOW_UP})
NOTHING = Decimal(0)


class Basis(Enum):
    """Who shares a stop: this quote's horses, those of the diary too, or only the horses of the same owner."""

    ALONE = "alone"
    AS_BOOKED = "as booked"
    AT_MOST = "at most"


def lines_of(
    request: PricingRequest,
    laid: Sequence[HorseDays],
    stops: Mapping[Stop, Sequence[int]],
    basis: Basis = Basis.ALONE,
) -> tuple[Line, ...]:
    """The charges horse by horse in the stated order: sessions, then call-outs (the highest first), then hire."""
    parts = _call_outs(request, laid, stops, basis)
    lines: list[Line] = []
    for days, call_outs in zip(laid, parts, strict=True):
        name, owner = days.horse.name, days.horse.owner
        lines += (Line(name, owner, *charge) for charge in _session_charges(request, days))
        lines += (
            Line(name, owner, What.CALL_OUT, count, each)
            for each, count in sorted(call_outs.items(), reverse=True)
            if each
        )
        if days.hire is not None and request.hire is not None:
            lines += (Line(name, owner, *charge) for charge in _hire_charges(request.hire, request.days, days))
    return tuple(lines)


def _session_charges(request: PricingRequest, days: HorseDays) -> list[tuple[What, int, Decimal]]:
    counts = our_counts(days)
    return [
        (What(kind.value), counts[kind], request.services[kind].price_for(counts[kind]))
        for kind in (Kind.FULL, Kind.SPOT)
        if counts[kind]
    ]


def _hire_charges(rates: HireRates, days: int, laid: HorseDays) -> list[tuple[What, int, Decimal]]:
    charges = [
        (What.RENT, 1, rates.rent(days)),
        (What.DELIVERY, 1, rates.delivery),
        (What.TRAINING, 1, rates.training),
        (What.FOLLOW_UP, our_counts(laid)[Kind.FOLLOW_UP], rates.follow_up),
    ]
    return [charge for charge in charges if charge[1] and charge[2]]


def our_counts(days: HorseDays) -> dict[Kind, int]:
    """How many sessions of each kind we give the horse."""
    return counts_of(days.ours)


def counts_of(sessions: Sequence[PlannedSession]) -> dict[Kind, int]:
    kinds = [session.kind for session in sessions]
    return {kind: kinds.count(kind) for kind in Kind}


def _call_outs(
    request: PricingRequest,
    laid: Sequence[HorseDays],
    stops: Mapping[Stop, Sequence[int]],
    basis: Basis,
) -> list[Counter[Decimal]]:
    """For each horse, how often it pays which part of a call-out."""
    paid: list[Counter[Decimal]] = [Counter() for _ in laid]
    others = _others_by_stop(request) if basis is Basis.AS_BOOKED else {}
    divide = most_it_can_cost if basis is Basis.AT_MOST else call_out_parts
    alike = Counter((tuple(places), others.get(stop, ())) for stop, places in stops.items())
    for (places, company), count in alike.items():
        owners = tuple(laid[place].horse.owner for place in places)
        parts = divide(request.call_out, owners + company, request.currency)
        for place, part in zip(places, parts, strict=False):
            paid[place][part] += count
    return paid


def _others_by_stop(request: PricingRequest) -> dict[Stop, tuple[str, ...]]:
    others: dict[Stop, tuple[str, ...]] = {}
    for other in request.others:
        stop = (other.on, 1)
        others[stop] = others.get(stop, ()) + (other.owner,) * other.horses
    return others


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
    """The charges of one horse before tax."""

    sessions: Decimal
    call_out: Decimal
    hire: Decimal

    @property
    def total(self) -> Decimal:
        return self.sessions + self.call_out + self.hire


def horses_before_tax(
    request: PricingRequest, lines: Sequence[Line], taxed: Mapping[str, Taxed]
) -> dict[str, HorseMoney]:
    """What each horse that is charged for costs before tax; `lines` are those that `taxed` was made of."""
    by_charge = _each_charge_counts(request)
    nets = {owner: iter(each.nets) for owner, each in taxed.items()}
    sums: dict[tuple[str, str], Decimal] = {}
    for line in lines:
        net = sum((next(nets[line.owner]) for _ in range(line.count if by_charge else 1)), NOTHING)
        key = line.horse, _column(line.what)
        sums[key] = sums.get(key, NOTHING) + net
    return {
        line.horse: HorseMoney(
            *(sums.get((line.horse, column), NOTHING) for column in ("sessions", "call_out", "hire"))
        )
        for line in lines
    }


def _column(what: What) -> str:
    if what in HIRE_LINES:
        return "hire"
    return "call_out" if what == What.CALL_OUT else "sessions"
