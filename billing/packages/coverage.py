"""Which sessions packages and monthly plans pay for, handed out in the order in which the sessions are asked about."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from billing.money.monthly import Month, MonthlyPlan
from billing.packages.sold import MonthlyRun, PackageSold, PlanMonth
from clients.animals.facts import PayerShare
from clients.visits.models import Session, Visit

SAID_FOR = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Covered:
    """A session that costs nothing more, and why. `month` may be one that is not written down yet."""

    reason: str
    sold: PackageSold | None = None
    month: PlanMonth | None = None


@dataclass(frozen=True, slots=True)
class Used:
    """How many sessions of a service are used, and on which day the last one."""

    count: int
    last: date


@dataclass(slots=True)
class Coverage:
    """`used` by (package, service), `used_months` by (running plan, first day, service); active uses only."""

    packages: Sequence[PackageSold] = ()
    runs: Mapping[int, Sequence[MonthlyRun]] = field(default_factory=dict)
    used: Mapping[tuple[int, int], Used] = field(default_factory=dict)
    used_months: Mapping[tuple[int, date, int], int] = field(default_factory=dict)
    _taken: Counter[tuple[object, ...]] = field(default_factory=Counter)

    def take(self, session: Session, visit: Visit, payers: Sequence[PayerShare]) -> Covered | None:
        """What pays for this session, counted as used from now on; a plan month first, as a package lasts longer."""
        return self._take_month(session, visit) or self._take_package(session, visit, payers)

    def _take_month(self, session: Session, visit: Visit) -> Covered | None:
        for run, month in self._months_of(visit):
            part = next((part for part in run.parts.all() if part.service_id == session.service_id), None)
            if part is None:
                continue
            key = (run.pk, month.first, session.service_id)
            number = self.used_months.get(key, 0) + self._taken[key] + 1
            held = terms_of(run).included(str(session.service_id), month)
            if number <= held:
                self._taken[key] += 1
                reason = f"{number} of {held} of {run.name}, month from {month.first:%-d %b %Y}"
                return Covered(reason, month=PlanMonth(run=run, first=month.first))
        return None

    def _months_of(self, visit: Visit) -> list[tuple[MonthlyRun, Month]]:
        found = []
        for run in self.runs.get(visit.animal_id, ()):
            months = run.months_until(visit.day)
            if months and months[-1].first <= visit.day < months[-1].end:
                found.append((run, months[-1]))
        return found

    def _take_package(self, session: Session, visit: Visit, payers: Sequence[PayerShare]) -> Covered | None:
        for sold in self.packages:
            if not (sold.holds_on(visit.day) and serves(sold, visit.animal_id, payers)):
                continue
            held, number = _held(sold, session.service_id), self._count(sold, session.service_id) + 1
            if number <= held:
                self._taken[sold.pk, session.service_id] += 1
                return Covered(_which(sold, session, number, held), sold=sold)
        return None

    def _count(self, sold: PackageSold, service_pk: int) -> int:
        used = self.used.get((sold.pk, service_pk))
        return (used.count if used else 0) + self._taken[sold.pk, service_pk]

    def price_beyond(self, session: Session, visit: Visit) -> tuple[Decimal, str] | None:
        """What a running plan asks for a session beyond its number."""
        for run, month in self._months_of(visit):
            for part in run.parts.all():
                if part.service_id == session.service_id and part.beyond is not None:
                    held = terms_of(run).included(str(session.service_id), month)
                    return part.beyond, f"beyond {held} a month of {run.name}"
        return None

    def why_not(self, session: Session, visit: Visit, payers: Sequence[PayerShare]) -> str:
        """Says that a package that would have paid is used up or has ended, if that was not long ago."""
        for sold in reversed(self.packages):
            held = _held(sold, session.service_id)
            if not held or sold.sold_on > visit.day or not serves(sold, visit.animal_id, payers):
                continue
            used = self.used.get((sold.pk, session.service_id))
            last = visit.day if self._taken[sold.pk, session.service_id] else (used.last if used else None)
            if self._count(sold, session.service_id) >= held and last and visit.day - last <= SAID_FOR:
                return f"{sold.name} is used up"
            if sold.ends_on and sold.ends_on < visit.day <= sold.ends_on + SAID_FOR:
                return f"{sold.name} ended on {sold.ends_on:%-d %b %Y}"
        return ""


def serves(sold: PackageSold, animal_pk: int, payers: Sequence[PayerShare]) -> bool:
    """A named horse; where none is named, one that the package's payer pays for alone."""
    named = {animal.pk for animal in sold.animals.all()}
    if named:
        return animal_pk in named
    return bool(payers) and {share.payer.pk for share in payers} == {sold.payer_id}


def terms_of(run: MonthlyRun) -> MonthlyPlan:
    parts = list(run.parts.all())
    return MonthlyPlan(
        name=run.name,
        price=run.price,
        sessions={str(part.service_id): part.count for part in parts},
        beyond={str(part.service_id): part.beyond for part in parts if part.beyond is not None},
    )


def _held(sold: PackageSold, service_pk: int) -> int:
    return next((part.count for part in sold.parts.all() if part.service_id == service_pk), 0)


def _which(sold: PackageSold, session: Session, number: int, held: int) -> str:
    """“4 of 10 of Ten full bodies, until 2 May 2027”; with several services, which one it counts."""
    what = "" if len(sold.parts.all()) == 1 else f" × {session.service}"
    until = f", until {sold.ends_on:%-d %b %Y}" if sold.ends_on else ""
    return f"{number} of {held}{what} of {sold.name}{until}"
