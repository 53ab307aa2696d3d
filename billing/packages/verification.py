"""What `verify` looks at among packages and running plans."""

from collections.abc import Iterator
from decimal import Decimal

from django.db.models import Prefetch

from billing.journal.models import Account, Posting
from billing.packages.queries import income_due, used_of
from billing.packages.sold import MonthlyRun, PackageSold, PlanMonth


def count_looked_at() -> str:
    return f"{PackageSold.objects.count()} packages and {MonthlyRun.objects.count()} monthly plans"


def faults_of_liability() -> Iterator[str]:
    """The liability in the books against what is not earned yet, and each one's income against its uses."""
    packages, months = _packages(), list(PlanMonth.objects.select_related("run").prefetch_related("run__parts"))
    unearned = sum((each.unearned for each in [*packages, *months]), Decimal(0))
    booked = Posting.objects.filter(account=Account.PACKAGE_LIABILITY).values_list("amount", flat=True)
    liability = -sum(booked, Decimal(0))
    if liability != unearned:
        yield f"packages: the books still owe {liability:f}, what is unused is {unearned:f}."
    for sold in packages:
        if sold.earned != (sold.net if sold.closed_on else income_due(sold)):
            yield f"package {sold.pk}: {sold.earned:f} is earned, its uses say {income_due(sold):f}."
    for month in months:
        if month.earned not in (month.net, income_due(month)):
            yield f"plan month {month.pk}: {month.earned:f} is earned, its uses say {income_due(month):f}."


def faults_of_counts() -> Iterator[str]:
    """Packages with more uses than they hold."""
    packages = _packages()
    used = used_of(packages)
    for sold in packages:
        held = {part.service_id: part.count for part in sold.parts.all()}
        for (pk, service), uses in used.items():
            if pk == sold.pk and uses.count > held.get(service, 0):
                yield f"package {pk} holds {held.get(service, 0)} of service {service}, {uses.count} are used."


def _packages() -> list[PackageSold]:
    return list(PackageSold.objects.prefetch_related(Prefetch("parts")).order_by("pk"))
