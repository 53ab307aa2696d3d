"""What our sessions cost: by the month, from a package, at the price beyond a month, or at the list price."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.money.monthly import Month, MonthlyPlan, plan_months
from billing.money.packages import Package, use_up
from billing.money.pricing import Line, What
from billing.quotes.laying import HorseDays, LaidOption
from billing.quotes.request import PricingRequest
from clients.plans.cadence import Kind, PlannedSession, in_order
from clients.plans.coverage import days_of

PRICED = (Kind.FULL, Kind.SPOT)


@dataclass(frozen=True, slots=True)
class ToPay:
    """A session that no plan month includes, and the price that the plan states for it, if any."""

    session: PlannedSession
    price: Decimal | None = None


@dataclass(frozen=True, slots=True)
class PackageUse:
    """A package that an owner buys, and how many of its sessions each horse of the owner uses in the term."""

    owner: str
    package: Package
    used: tuple[tuple[str, int], ...]

    @property
    def sessions_used(self) -> int:
        return sum(count for _horse, count in self.used)

    def line(self, on: date) -> Line:
        """One charge on the first day. It falls on the horses by the sessions they use; on the first, if on none."""
        falls_on = tuple((horse, Decimal(count)) for horse, count in self.used if count)
        falls_on = falls_on or ((self.used[0][0], Decimal(1)),)
        name, price = self.package.name, self.package.price
        return Line("", self.owner, What.PACKAGE, 1, price, name=name, on=(on,), falls_on=falls_on)


@dataclass(frozen=True, slots=True)
class SessionCharges:
    """The charges for sessions of each horse, in the stated order, and the packages that are used for them."""

    horses: tuple[tuple[Line, ...], ...]
    packages: tuple[PackageUse, ...] = ()


def session_charges(request: PricingRequest, laid: LaidOption) -> SessionCharges:
    """Plan months pay first, then packages; what is left costs the price beyond the month, or the list price.

    Breaks count only what is left at the list price.
    """
    plain = all(plan.monthly is None for plan in laid.option.plans.values()) and not laid.option.packages
    if plain:
        return SessionCharges(tuple(_listed_lines(request, days) for days in laid.horses))
    months = [_month_lines(request, laid, days) for days in laid.horses]
    to_pay = [_beyond_months(request, laid, days) for days in laid.horses]
    uses: list[PackageUse] = []
    for owner, packages in laid.option.packages.items():
        if packages:
            uses += _take_from_packages(request, laid, owner, packages, to_pay)
    lines = (
        (*monthly, *_priced_lines(request, days, left))
        for days, monthly, left in zip(laid.horses, months, to_pay, strict=True)
    )
    return SessionCharges(tuple(lines), tuple(uses))


def _listed_lines(request: PricingRequest, days: HorseDays) -> tuple[Line, ...]:
    by_kind = ((kind, days_of(kind, days.ours)) for kind in PRICED)
    return tuple(_line(request, days, kind, None, on) for kind, on in by_kind if on)


def _month_lines(request: PricingRequest, laid: LaidOption, days: HorseDays) -> list[Line]:
    plan = laid.option.plans[days.horse.name].monthly
    if plan is None:
        return []
    by_price: dict[Decimal, list[date]] = {}
    for month in plan_months(request.start, request.days):
        by_price.setdefault(plan.price_of(month, request.currency), []).append(month.first)
    return [
        Line(days.horse.name, days.horse.owner, What.MONTHLY, len(firsts), price, name=plan.name, on=tuple(firsts))
        for price, firsts in by_price.items()
    ]


def _beyond_months(request: PricingRequest, laid: LaidOption, days: HorseDays) -> list[ToPay]:
    """Our full bodies and spots that no plan month includes, in date order."""
    sessions = [session for session in days.ours if session.kind in PRICED]
    plan = laid.option.plans[days.horse.name].monthly
    if plan is None:
        return [ToPay(session) for session in sessions]
    left: list[ToPay] = []
    for month in plan_months(request.start, request.days):
        there = [session for session in sessions if month.first <= session.on < month.end]
        left += _beyond_month(plan, month, there)
    return left


def _beyond_month(plan: MonthlyPlan, month: Month, sessions: Sequence[PlannedSession]) -> Iterator[ToPay]:
    included = {kind: plan.included(kind, month) for kind in PRICED}
    for session in sessions:
        if included[session.kind]:
            included[session.kind] -= 1
        else:
            yield ToPay(session, plan.beyond.get(session.kind))


def _take_from_packages(
    request: PricingRequest, laid: LaidOption, owner: str, packages: Sequence[Package], to_pay: list[list[ToPay]]
) -> list[PackageUse]:
    """Use up an owner's packages in date order, then in the stated order of the horses; `to_pay` keeps what is left."""
    places = [place for place, days in enumerate(laid.horses) if days.horse.owner == owner]
    waiting = sorted(
        ((place, each) for place in places for each in to_pay[place]),
        key=lambda pair: (pair[1].session.on, pair[0], in_order(pair[1].session)),
    )
    paid_by = use_up(packages, [(each.session.on, each.session.kind) for _place, each in waiting], request.start)
    used = [dict.fromkeys(places, 0) for _package in packages]
    for place in places:
        to_pay[place] = []
    for (place, each), package in zip(waiting, paid_by, strict=True):
        if package is None:
            to_pay[place].append(each)
        else:
            used[package][place] += 1
    return [
        PackageUse(owner, package, tuple((laid.horses[place].horse.name, count) for place, count in counts.items()))
        for package, counts in zip(packages, used, strict=True)
    ]


def _priced_lines(request: PricingRequest, days: HorseDays, to_pay: Sequence[ToPay]) -> Iterator[Line]:
    for kind in PRICED:
        by_price: dict[Decimal | None, list[date]] = {}
        for each in to_pay:
            if each.session.kind is kind:
                by_price.setdefault(each.price, []).append(each.session.on)
        for price, on in by_price.items():
            yield _line(request, days, kind, price, on)


def _line(request: PricingRequest, days: HorseDays, kind: Kind, price: Decimal | None, on: Sequence[date]) -> Line:
    """Sessions at a stated price, or at the list price for so many."""
    each = request.services[kind].price_for(len(on)) if price is None else price
    return Line(days.horse.name, days.horse.owner, What(kind.value), len(on), each, on=tuple(on))
