from datetime import date
from typing import TypeVar

from django.db.models import Prefetch

from billing.packages.models import MonthlyPart, MonthlyPlan, Offer, Package, PackagePart
from billing.prices.queries import latest

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
