"""The charges of one option, as lines."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from enum import Enum

from billing.money.call_out import CallOut, Split, call_out_parts, most_it_can_cost, shared
from billing.money.hire import HireRates
from billing.money.pricing import Line, What
from billing.quotes.discounts import discount_lines
from billing.quotes.laying import HorseDays, LaidOption, Stop
from billing.quotes.request import PricingRequest
from billing.quotes.session_charges import PRICED, session_charges
from clients.plans.cadence import Kind, PlannedSession
from clients.plans.coverage import days_of

NOTHING = Decimal(0)
NOBODY = frozenset[int]()


class Basis(Enum):
    """Who shares a stop: this quote's horses, those of the diary too, or only the horses of the same owner."""

    ALONE = "alone"
    AS_BOOKED = "as booked"
    AT_MOST = "at most"


def lines_of(request: PricingRequest, laid: LaidOption, basis: Basis = Basis.ALONE) -> tuple[Line, ...]:
    """The charges horse by horse in the stated order: sessions, then call-outs (the highest first), then hire.

    After them the packages of each owner, and each owner's discount.
    """
    lines = _charges(request, laid, basis)
    if laid.option.discount is None:
        return lines
    alone = lines if basis is Basis.ALONE else _charges(request, laid, Basis.ALONE)
    return (*lines, *discount_lines(request, laid.option.discount, lines, alone))


def _charges(request: PricingRequest, laid: LaidOption, basis: Basis) -> tuple[Line, ...]:
    charges = session_charges(request, laid)
    parts = _call_outs(request, laid, basis)
    hires = _hire_lines(request, laid, basis)
    lines: list[Line] = []
    for place, days in enumerate(laid.horses):
        name, owner = days.horse.name, days.horse.owner
        lines += charges.horses[place]
        lines += (
            Line(name, owner, What.CALL_OUT, len(on), each, on=tuple(on))
            for each, on in sorted(parts[place].items(), reverse=True)
            if each
        )
        lines += hires.get(place, ())
    lines += (use.line(request.start) for use in charges.packages)
    return tuple(lines)


def our_counts(days: HorseDays) -> dict[Kind, int]:
    """How many sessions of each kind we give the horse."""
    return counts_of(days.ours)


def counts_of(sessions: Sequence[PlannedSession]) -> dict[Kind, int]:
    kinds = [session.kind for session in sessions]
    return {kind: kinds.count(kind) for kind in Kind}


def _divide(request: PricingRequest, amount: CallOut, owners: tuple[str, ...], basis: Basis) -> tuple[Decimal, ...]:
    return (most_it_can_cost if basis is Basis.AT_MOST else call_out_parts)(amount, owners, request.currency)


def _call_outs(request: PricingRequest, laid: LaidOption, basis: Basis) -> list[dict[Decimal, list[date]]]:
    """For each horse, on which days it pays which part of a call-out."""
    paid: list[dict[Decimal, list[date]]] = [{} for _ in laid.horses]
    others = _others_by_stop(request) if basis is Basis.AS_BOOKED else {}
    with_machine = _only_with_a_machine(request, laid)
    alike: dict[tuple[tuple[int, ...], tuple[str, ...], frozenset[int]], list[date]] = {}
    for stop, places in laid.stops.items():
        group = (tuple(places), others.get(stop, ()), with_machine.get(stop, NOBODY))
        alike.setdefault(group, []).append(stop[0])
    for (places, company, sharing), on in alike.items():
        owners = tuple(laid.horses[place].horse.owner for place in places)
        parts = dict(zip(places, _divide(request, request.call_out, owners + company, basis), strict=False))
        for machine in _machines(laid, sharing).values():
            owners = tuple(laid.horses[place].horse.owner for place in machine)
            one = CallOut(request.call_out.amount, shared(request.call_out.split))
            parts.update(zip(machine, _divide(request, one, owners, basis), strict=True))
        for place, part in parts.items():
            paid[place].setdefault(part, []).extend(on)
    return paid


def _only_with_a_machine(request: PricingRequest, laid: LaidOption) -> dict[Stop, frozenset[int]]:
    """Where each horse pays a whole call-out: the horses that a stop sees only as sharers of a hired machine.

    The visit is to the machine, so that those horses share one call-out.
    """
    sharing = [place for machine in _machines(laid).values() if len(machine) > 1 for place in machine]
    if request.call_out.split != Split.NONE or not sharing:
        return {}
    seen = {
        (session.on, session.part, place)
        for place in sharing
        for session in laid.horses[place].ours
        if session.kind in PRICED
    }
    return {
        stop: frozenset(place for place in places if place in sharing and (*stop, place) not in seen)
        for stop, places in laid.stops.items()
    }


def _machines(laid: LaidOption, among: Iterable[int] | None = None) -> dict[str, list[int]]:
    """The hired machines, each with the places of the horses that share it, in the stated order."""
    machines: dict[str, list[int]] = {}
    for place in sorted(among) if among is not None else range(len(laid.horses)):
        if laid.horses[place].machine:
            machines.setdefault(laid.horses[place].machine, []).append(place)
    return machines


def _hire_lines(request: PricingRequest, laid: LaidOption, basis: Basis) -> dict[int, list[Line]]:
    """For each horse by hire its part of the machine's charges, split like a call-out over the horses that share it."""
    lines: dict[int, list[Line]] = {}
    if request.hire is None:
        return lines
    split = shared(request.call_out.split)
    for places in _machines(laid).values():
        horses = [laid.horses[place].horse for place in places]
        owners = tuple(horse.owner for horse in horses)
        for what, each, on in _hire_charges(request.hire, request, laid.horses[places[0]]):
            parts = _divide(request, CallOut(each, split), owners, basis)
            for place, horse, part in zip(places, horses, parts, strict=True):
                if part:
                    lines.setdefault(place, []).append(Line(horse.name, horse.owner, what, len(on), part, on=on))
    return lines


def _hire_charges(
    rates: HireRates, request: PricingRequest, days: HorseDays
) -> list[tuple[What, Decimal, tuple[date, ...]]]:
    """The charges of one machine with their dates; `days` are those of a horse that shares it."""
    first = (request.start,)
    charges = [
        (What.RENT, rates.rent(request.days), first),
        (What.DELIVERY, rates.delivery, first),
        (What.TRAINING, rates.training, first),
        (What.FOLLOW_UP, rates.follow_up, tuple(days_of(Kind.FOLLOW_UP, days.ours))),
        (What.COLLECTION, rates.collection or NOTHING, tuple(days_of(Kind.COLLECTION, days.ours))),
    ]
    return [charge for charge in charges if charge[1] and charge[2]]


def _others_by_stop(request: PricingRequest) -> dict[Stop, tuple[str, ...]]:
    others: dict[Stop, tuple[str, ...]] = {}
    for other in request.others:
        stop = (other.on, 1)
        others[stop] = others.get(stop, ()) + (other.owner,) * other.horses
    return others
