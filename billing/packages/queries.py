from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import (
    Case,
    Count,
    F,
    Max,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from billing.packages.coverage import SAID_FOR, Coverage, Used, terms_of
from billing.packages.earning import earned_by
from billing.packages.models import MonthlyPart, MonthlyPlan, Offer, Package, PackagePart
from billing.packages.sold import (
    Deduction,
    MonthlyRun,
    MonthlyRunPart,
    PackageSold,
    PackageSoldPart,
    PlanMonth,
    Use,
)
from billing.prices.queries import latest
from clients.people.models import Person
from clients.plans.models import Service

O = TypeVar("O", bound=Offer)  # noqa: E741


def packages_on_sale(on: date) -> list[Package]:
    """What may be sold on the day, by name, each with its parts and their services."""
    parts = Prefetch("parts", PackagePart.objects.select_related("service"))
    return _on_sale(list(Package.objects.prefetch_related(parts)), on)


def monthly_plans_on_sale(on: date) -> list[MonthlyPlan]:
    parts = Prefetch("parts", MonthlyPart.objects.select_related("service"))
    return _on_sale(list(MonthlyPlan.objects.prefetch_related(parts)), on)


def _on_sale(rows: list[O], on: date) -> list[O]:
    by_name: dict[str, list[O]] = {}
    for row in rows:
        by_name.setdefault(row.name, []).append(row)
    found = [latest(turns, on) for turns in by_name.values()]
    return [row for row in found if row is not None and row.is_offered]


def coverage_of(animals: Iterable[int], days: Sequence[date]) -> Coverage:
    """What may pay for sessions of these horses on these days; the same queries for one and for many."""
    if not days:
        return Coverage()
    long_ago = min(days) - SAID_FOR
    sold = PackageSold.objects.filter(Q(ends_on__isnull=True) | Q(ends_on__gte=long_ago), sold_on__lte=max(days))
    runs: dict[int, list[MonthlyRun]] = {}
    running = MonthlyRun.objects.filter(animal__in=set(animals), start__lte=max(days))
    for run in running.filter(Q(ends_on__isnull=True) | Q(ends_on__gte=min(days))).prefetch_related("parts"):
        runs.setdefault(run.animal_id, []).append(run)
    packages = list(sold.filter(closed_on__isnull=True).prefetch_related("parts", "animals"))
    return Coverage(packages, runs, used_of(packages), used_months_of(run for some in runs.values() for run in some))


def used_of(packages: Iterable[PackageSold]) -> dict[tuple[int, int], Used]:
    rows = Use.objects.filter(sold__in=list(packages), undone_at__isnull=True).order_by()
    counted = rows.values_list("sold", "session__service").annotate(Count("pk"), Max("used_on"))
    return {(sold, service): Used(count, last) for sold, service, count, last in counted}


def used_months_of(runs: Iterable[MonthlyRun]) -> dict[tuple[int, date, int], int]:
    rows = Use.objects.filter(month__run__in=list(runs), undone_at__isnull=True).order_by()
    counted = rows.values_list("month__run", "month__first", "session__service").annotate(Count("pk"))
    return {(run, first, service): count for run, first, service, count in counted}


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one service in a package."""

    service: Service
    count: int
    used: int

    @property
    def left(self) -> int:
        return self.count - self.used

    def __str__(self) -> str:
        return f"{self.left} of {self.count} {self.service}"


def left_of(packages: Sequence[PackageSold]) -> dict[int, list[Left]]:
    """Package → what is left of each of its services; `packages` have their parts and services loaded."""
    used = used_of(packages)
    return {
        sold.pk: [
            Left(part.service, part.count, used[sold.pk, part.service_id].count)
            if (sold.pk, part.service_id) in used
            else Left(part.service, part.count, 0)
            for part in sold.parts.all()
        ]
        for sold in packages
    }


def income_due(prepaid: PackageSold | PlanMonth) -> Decimal:
    """What of its money the sessions used so far have earned."""
    return used_part(prepaid, prepaid.net)


def used_part(prepaid: PackageSold | PlanMonth, whole: Decimal) -> Decimal:
    """What of an amount goes with the sessions used so far."""
    used = prepaid.uses.filter(undone_at__isnull=True).count()
    return earned_by(whole, used, sessions_in(prepaid), the_business().currency)


def sessions_in(prepaid: PackageSold | PlanMonth) -> int:
    if isinstance(prepaid, PackageSold):
        return sum(part.count for part in prepaid.parts.all())
    terms = terms_of(prepaid.run)
    return sum(terms.included(service, prepaid.month) for service in terms.sessions)


def packages_shown() -> QuerySet[PackageSold]:
    parts = Prefetch("parts", PackageSoldPart.objects.select_related("service"))
    return PackageSold.objects.select_related("payer").prefetch_related(parts, "animals")


def packages_listed(on: date) -> QuerySet[Any]:
    """Sold packages with how many sessions they `held`, how many are `left`, and their `state` in a word."""
    parts = PackageSoldPart.objects.filter(sold=OuterRef("pk")).order_by().values("sold")
    uses = Use.objects.filter(sold=OuterRef("pk"), undone_at__isnull=True).order_by().values("sold")
    counted: QuerySet[Any] = PackageSold.objects.select_related("payer").annotate(
        held=Coalesce(Subquery(parts.annotate(sum=Sum("count")).values("sum")), Value(0)),
        gone=Coalesce(Subquery(uses.annotate(n=Count("pk")).values("n")), Value(0)),
    )
    shown: QuerySet[Any] = counted.annotate(left=F("held") - F("gone")).annotate(
        state=Case(
            When(closed_on__isnull=False, then=Value("closed")),
            When(left__lte=0, then=Value("used up")),
            When(ends_on__lt=on, then=Value("lapsed")),
            default=Value("open"),
        )
    )
    return shown


def runs_listed(on: date) -> QuerySet[Any]:
    """Monthly plans with their `state` in a word."""
    runs: QuerySet[Any] = MonthlyRun.objects.select_related("animal")
    shown: QuerySet[Any] = runs.annotate(
        state=Case(
            When(ends_on__lt=on, then=Value("finished")),
            When(start__gt=on, then=Value("proposed")),
            default=Value("running"),
        )
    )
    return shown


def packages_left(payer: Person, on: date) -> list[tuple[PackageSold, list[Left]]]:
    """What somebody may still use on the day."""
    held = [sold for sold in packages_shown().filter(payer=payer) if sold.holds_on(on)]
    left = left_of(held)
    return [(sold, left[sold.pk]) for sold in held if any(each.left for each in left[sold.pk])]


def say_left(payer: Person, on: date) -> list[str]:
    """One line for each package of the payer, for an invoice: “Ten full bodies: 6 of 10 Full body left, until …”."""
    return [
        f"{sold.name}: {', '.join(map(str, left))} left" + (f", until {sold.ends_on:%-d %b %Y}" if sold.ends_on else "")
        for sold, left in packages_left(payer, on)
    ]


def deductions_left(payer: Person, taken: Mapping[int, Decimal]) -> list[tuple[Deduction, Decimal]]:
    """What may still be taken off the payer's invoices, given what was `taken` of each."""
    rows = Deduction.objects.filter(payer=payer)
    left = [(row, row.amount - taken.get(row.pk, Decimal(0))) for row in rows]
    return [(row, rest) for row, rest in left if rest > 0]


def get_package_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> PackageSold:
    demand(request, power)
    return get_object_or_404(packages_shown(), pk=pk)


def get_use_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> Use:
    demand(request, power)
    return get_object_or_404(Use.objects.select_related("sold", "month__run"), pk=pk)


def trail_of(uses: QuerySet[Use]) -> QuerySet[Use]:
    """The uses in their order, undone ones too, with the horse, the service and the people."""
    loads = ("session__service", "session__visit__animal", "confirmed_by", "undone_by")
    return uses.select_related(*loads).order_by("used_on", "pk")


def get_run_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> MonthlyRun:
    demand(request, power)
    parts = Prefetch("parts", MonthlyRunPart.objects.select_related("service"))
    return get_object_or_404(MonthlyRun.objects.select_related("animal").prefetch_related(parts), pk=pk)
