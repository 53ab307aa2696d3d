"""Several options side by side: what each costs, and how near it comes to the guideline."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import add

from billing.money.pricing import Line
from billing.money.rounding import round_money
from billing.quotes.charging import Basis, counts_of, lines_of, our_counts
from billing.quotes.laying import HorseDays, LaidOption, lay_option
from billing.quotes.notices import BreakEven, break_evens, notices_of
from billing.quotes.owner_money import HorseMoney, horses_before_tax, owners_taxed, tax_lines, total_of
from billing.quotes.payments import Payment, all_payments, payments_of_owners
from billing.quotes.request import Option, PricingRequest
from clients.plans.cadence import Kind, PlannedSession
from clients.plans.coverage import Coverage, cover, longest_gap

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class OwnerMeasures:
    """What one owner pays. `at_most` counts only the owner's own horses at each stop: the promise to the owner."""

    name: str
    net: Decimal
    tax: Decimal
    total: Decimal
    total_as_booked: Decimal
    at_most: Decimal


@dataclass(frozen=True, slots=True)
class HorseMeasures:
    """One horse of an option: its money before tax, its days, and how much of the guideline they cover."""

    days: HorseDays
    money: HorseMoney
    coverage: Coverage | None
    longest_gap: int

    @property
    def name(self) -> str:
        return self.days.horse.name


@dataclass(frozen=True, slots=True)
class OptionMeasures:
    """A row of the comparison. `total` is alone (only this quote's horses) and, like all sums here, includes tax.

    `per_session` divides by our full bodies and spots; None if we give none. `lines` and `payments` add up to `total`.
    `coverage` is None without a guideline.
    """

    request: PricingRequest = field(repr=False)
    option: Option
    visits: int
    sessions: int
    minutes: int
    owner_minutes: int
    total: Decimal
    total_as_booked: Decimal
    per_week: Decimal
    per_session: Decimal | None
    coverage: Coverage | None
    longest_gap: int
    lines: tuple[Line, ...]
    owners: tuple[OwnerMeasures, ...]
    horses: tuple[HorseMeasures, ...]
    deposit: Decimal
    break_evens: tuple[BreakEven, ...]
    notices: tuple[str, ...]
    frontier: bool = False

    @property
    def name(self) -> str:
        return self.option.name

    @property
    def owners_payments(self) -> dict[str, tuple[Payment, ...]]:
        """What each owner pays when; each adds up to the owner's total."""
        return payments_of_owners(self.request, self.lines, {owner.name: owner.total for owner in self.owners})

    @property
    def payments(self) -> tuple[Payment, ...]:
        """What is paid when, by all owners together."""
        return all_payments(self.owners_payments.values())

    @property
    def covered(self) -> Fraction | None:
        return self.coverage.covered if self.coverage is not None else None


@dataclass(frozen=True, slots=True)
class Comparison:
    """The options in the stated order, with the frontier marked."""

    request: PricingRequest
    options: tuple[OptionMeasures, ...]


def compare(request: PricingRequest) -> Comparison:
    """Price every option of `request` and mark the frontier; the search within a budget is `budget.search`."""
    planned = guideline_sessions(request)
    options = [measure(request, option, planned) for option in request.options]
    on_frontier = frontier([(option.total, option.covered) for option in options])
    marked = (replace(option, frontier=place in on_frontier) for place, option in enumerate(options))
    return Comparison(request, tuple(marked))


def guideline_sessions(request: PricingRequest) -> tuple[PlannedSession, ...]:
    """The guideline expanded over the request's term; nothing without a guideline."""
    return request.guideline.sessions(request.start, request.days) if request.guideline else ()


def measure(request: PricingRequest, option: Option, planned: Sequence[PlannedSession]) -> OptionMeasures:
    """One option by every measure; `planned` is what `guideline_sessions` gave."""
    laid = lay_option(request, option)
    lines = lines_of(request, laid)
    taxed = owners_taxed(request, lines)
    booked = owners_taxed(request, lines_of(request, laid, Basis.AS_BOOKED)) if request.others else taxed
    promised = owners_taxed(request, lines_of(request, laid, Basis.AT_MOST)) if len(taxed) > 1 else taxed
    owners = tuple(
        OwnerMeasures(name, each.net, each.tax, each.gross, booked[name].gross, promised[name].gross)
        for name, each in taxed.items()
    )
    money = horses_before_tax(request, lines, taxed)
    horses = tuple(
        HorseMeasures(
            days=days,
            money=money.get(days.horse.name, HorseMoney()),
            coverage=coverage_of(request, days, planned),
            longest_gap=longest_gap(days.sessions, request.start, request.days),
        )
        for days in laid.horses
    )
    total = total_of(taxed)
    sessions = sum(_given(days) for days in laid.horses)
    evens = break_evens(request, laid)
    return OptionMeasures(
        request=request,
        option=option,
        visits=len(laid.stops),
        sessions=sessions,
        minutes=sum(_minutes(request, days.ours) for days in laid.horses),
        owner_minutes=sum(_minutes(request, days.own) for days in laid.horses),
        total=total,
        total_as_booked=total_of(booked),
        per_week=round_money(Fraction(total) * 7 / request.days, request.currency),
        per_session=round_money(Fraction(total) / sessions, request.currency) if sessions else None,
        coverage=whole_coverage([horse.coverage for horse in horses]),
        longest_gap=max(horse.longest_gap for horse in horses),
        lines=(*lines, *tax_lines(request, taxed)),
        owners=owners,
        horses=horses,
        deposit=_deposit(request, laid),
        break_evens=evens,
        notices=notices_of(request, laid, [horse.coverage for horse in horses], evens),
    )


def _given(days: HorseDays) -> int:
    counts = our_counts(days)
    return counts[Kind.FULL] + counts[Kind.SPOT]


def _minutes(request: PricingRequest, sessions: Sequence[PlannedSession]) -> int:
    counts = counts_of(sessions)
    return sum(counts[kind] * service.minutes for kind, service in request.services.items())


def _deposit(request: PricingRequest, laid: LaidOption) -> Decimal:
    machines = {days.machine for days in laid.horses if days.machine}
    return len(machines) * request.hire.deposit if request.hire is not None else NOTHING


def coverage_of(request: PricingRequest, days: HorseDays, planned: Sequence[PlannedSession]) -> Coverage | None:
    """How much of the guideline one horse's sessions cover; None without a guideline that plans anything."""
    if request.guideline is None or not planned:
        return None
    minutes = {kind: service.minutes for kind, service in request.services.items()}
    return cover(request.guideline, planned, days.sessions, minutes)


def whole_coverage(coverages: Sequence[Coverage | None]) -> Coverage | None:
    """All horses together: all credited minutes over all guideline minutes."""
    present = [coverage for coverage in coverages if coverage is not None]
    return reduce(add, present) if present else None


def frontier(points: Sequence[tuple[Decimal, Fraction | None]]) -> frozenset[int]:
    """The places of the (total, covered) points that no other beats.

    One beats another if it costs no more, covers no less and is better in one; equal points stay together. Points
    without coverage count as covering the same.
    """
    ranked = sorted((total, -(covered or 0), place) for place, (total, covered) in enumerate(points))
    kept: list[int] = []
    most: Fraction | int = -1
    kept_total = NOTHING
    for total, minus_covered, place in ranked:
        covered = -minus_covered
        if covered > most:
            most, kept_total = covered, total
            kept.append(place)
        elif covered == most and total == kept_total:
            kept.append(place)
    return frozenset(kept)
