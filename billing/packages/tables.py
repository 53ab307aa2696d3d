from typing import Any

import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, MoneyColumn, NumberColumn, Table
from billing.packages.models import MonthlyPlan, Package


class PartsColumn(tables.Column):  # type: ignore[misc]
    """“10 × Full body, 5 × Spot”."""

    def render(self, value: Any) -> str:
        return ", ".join(str(part) for part in value.all())

    def value(self, value: Any, **kwargs: Any) -> str:
        return self.render(value)


class PackageOfferTable(Table):
    name = tables.Column(linkify=lambda record: reverse("billing:rate-edit", args=["package-offers", record.pk]))
    parts = PartsColumn(orderable=False, verbose_name="What is in it")
    price = MoneyColumn()
    valid_days = NumberColumn(verbose_name="Days valid")
    is_offered = tables.BooleanColumn(verbose_name="On sale", yesno="yes,no")
    since = DayColumn(verbose_name="From")

    class Meta(Table.Meta):
        model = Package
        fields = ["name", "parts", "price", "valid_days", "is_offered", "since"]

    def render_is_offered(self, value: bool) -> str:
        return "yes" if value else "no"


class MonthlyOfferTable(Table):
    name = tables.Column(linkify=lambda record: reverse("billing:rate-edit", args=["plan-offers", record.pk]))
    parts = PartsColumn(orderable=False, verbose_name="In a month")
    price = MoneyColumn(verbose_name="A month")
    is_offered = tables.BooleanColumn(verbose_name="On sale", yesno="yes,no")
    since = DayColumn(verbose_name="From")

    class Meta(Table.Meta):
        model = MonthlyPlan
        fields = ["name", "parts", "price", "is_offered", "since"]

    def render_is_offered(self, value: bool) -> str:
        return "yes" if value else "no"


class OfferFilter(FilterSet):
    search_in = ("name", "parts__service__name")

    is_offered = django_filters.BooleanFilter(label="On sale")
