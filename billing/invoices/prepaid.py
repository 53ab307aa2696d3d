"""What is prepaid and waits to be charged, day by day."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Prefetch, Q

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


def prepaid_waiting(until: date, days: Collection[date] | None = None) -> dict[date, PrepaidWaiting]:
    """Up to and with the day `until`; of `days` only, where they are given."""
    found: dict[date, PrepaidWaiting] = {}
    parts = Prefetch("parts", PackageSoldPart.objects.select_related("service"))
    sold = PackageSold.objects.filter(charge__isnull=True, is_brought=False, sold_on__lte=until).order_by(
        "sold_on", "pk"
    )
    for package in sold.select_related("payer").prefetch_related(parts):
        found.setdefault(package.sold_on, PrepaidWaiting()).sold.append(package)
    for month in _months_waiting(until):
        found.setdefault(month.first, PrepaidWaiting()).months.append(month)
    deposits = Deduction.objects.filter(kind=Deduction.Kind.DEPOSIT, agreed_on__lte=until)
    for deposit in deposits.exclude(charges__kind=Charge.Kind.DEPOSIT).select_related("payer"):
        found.setdefault(deposit.agreed_on, PrepaidWaiting()).deposits.append(deposit)
    for voucher in Voucher.objects.filter(charge__isnull=True, sold_on__lte=until).select_related("payer"):
        found.setdefault(voucher.sold_on, PrepaidWaiting()).vouchers.append(voucher)
    return {day: waiting for day, waiting in found.items() if days is None or day in days}


def _months_waiting(until: date) -> list[PlanMonth]:
    """Months of running plans that have begun and carry no charge; one that nobody used is not written down yet."""
    parts = Prefetch("parts", MonthlyRunPart.objects.select_related("service"))
    runs = list(MonthlyRun.objects.filter(start__lte=until).select_related("animal").prefetch_related(parts))
    charged = Charge.objects.filter(Q(plan_month__run__in=runs)).values_list("plan_month__run", "plan_month__first")
    done = set(charged)
    return [
        PlanMonth(run=run, first=month.first)
        for run in runs
        for month in run.months_until(until)
        if (run.pk, month.first) not in done
    ]
