"""What is prepaid and waits to be charged, day by day."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Prefetch, Q, QuerySet

from billing.invoices.models import Charge
from billing.packages.sold import Deduction, MonthlyRun, MonthlyRunPart, PackageSold, PackageSoldPart, PlanMonth
from billing.vouchers.models import Voucher


@dataclass(frozen=True, slots=True)
class PrepaidWaiting:
    """Of one day: packages and vouchers sold, plan months that begin, booking deposits asked for."""

    sold: list[PackageSold] = field(default_factory=list)
    months: list[PlanMonth] = field(default_factory=list)
    deposits: list[Deduction] = field(default_factory=list)
    vouchers: list[Voucher] = field(default_factory=list)


def prepaid_waiting(until: date, days: Collection[date]) -> dict[date, PrepaidWaiting]:
    """What waits on `days`, of which `until` is the last."""
    found: dict[date, PrepaidWaiting] = {}
    of_packages = Prefetch("parts", PackageSoldPart.objects.select_related("service"))
    for package in _sold(until).order_by("sold_on", "pk").select_related("payer").prefetch_related(of_packages):
        found.setdefault(package.sold_on, PrepaidWaiting()).sold.append(package)
    of_months = Prefetch("parts", MonthlyRunPart.objects.select_related("service"))
    for month in _months(_runs(until).select_related("animal").prefetch_related(of_months), until):
        found.setdefault(month.first, PrepaidWaiting()).months.append(month)
    for deposit in _deposits(until).select_related("payer"):
        found.setdefault(deposit.agreed_on, PrepaidWaiting()).deposits.append(deposit)
    for voucher in _vouchers(until).select_related("payer"):
        found.setdefault(voucher.sold_on, PrepaidWaiting()).vouchers.append(voucher)
    return {day: waiting for day, waiting in found.items() if day in days}


def days_with_prepaid(until: date) -> set[date]:
    """The days on which something waits, without reading what."""
    named = _sold(until).values_list("sold_on"), _deposits(until).values_list("agreed_on")
    days = _vouchers(until).values_list("sold_on").order_by().union(*(each.order_by() for each in named))
    return {day for (day,) in days} | {month.first for month in _months(_runs(until), until)}


def _sold(until: date) -> QuerySet[PackageSold]:
    return PackageSold.objects.filter(charge__isnull=True, is_brought=False, sold_on__lte=until)


def _deposits(until: date) -> QuerySet[Deduction]:
    asked_for = Deduction.objects.filter(kind=Deduction.Kind.DEPOSIT, agreed_on__lte=until)
    return asked_for.exclude(charges__kind=Charge.Kind.DEPOSIT)


def _vouchers(until: date) -> QuerySet[Voucher]:
    return Voucher.objects.filter(charge__isnull=True, sold_on__lte=until)


def _runs(until: date) -> QuerySet[MonthlyRun]:
    return MonthlyRun.objects.filter(start__lte=until)


def _months(runs: Iterable[MonthlyRun], until: date) -> list[PlanMonth]:
    """Months of running plans that have begun and carry no charge; one that nobody used is not written down yet."""
    runs = list(runs)
    if not runs:
        return []
    charged = Charge.objects.filter(Q(plan_month__run__in=runs)).values_list("plan_month__run", "plan_month__first")
    done = set(charged)
    return [
        PlanMonth(run=run, first=month.first)
        for run in runs
        for month in run.months_until(until)
        if (run.pk, month.first) not in done
    ]
