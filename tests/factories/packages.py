"""Packages and monthly plans, on sale and sold."""

from decimal import Decimal

from backoffice.access.models import User
from billing.packages.actions import sell_package, start_monthly_plan
from billing.packages.models import MonthlyPart, MonthlyPlan, Package, PackagePart
from billing.packages.sold import MonthlyRun, PackageSold
from clients.animals.models import Animal
from clients.people.models import Person
from clients.plans.models import Service
from tests.factories.billing import AT, DAY


def package_of(
    *parts: tuple[Service, int], name: str = "Ten full bodies", price: str = "800.00", days: int | None = 62
):
    package, _ = Package.objects.get_or_create(
        name=name, defaults={"price": Decimal(price), "valid_days": days, "since": DAY}
    )
    for service, count in parts:
        PackagePart.objects.get_or_create(package=package, service=service, defaults={"count": count})
    return package


def sold_package(payer: Person, service: Service, by: User, count: int = 10, **terms: object) -> PackageSold:
    options = {key: terms.pop(key) for key in ("name", "price", "days") if key in terms}
    package = package_of((service, count), **options)
    return sell_package(**{"package": package, "payer": payer, "on": DAY, "at": AT, "by": by, **terms})


def running_plan(animal: Animal, service: Service, by: User, count: int = 2, **terms: object) -> MonthlyRun:
    plan = MonthlyPlan.objects.create(name="Two a month", price=Decimal("170.00"), since=DAY)
    MonthlyPart.objects.create(plan=plan, service=service, count=count, beyond=terms.pop("beyond", None))
    return start_monthly_plan(**{"plan": plan, "animal": animal, "start": DAY, "at": AT, "by": by, **terms})
