from typing import Any

import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, MoneyColumn, NameColumn, NumberColumn, Table
from billing.packages.models import MonthlyPlan, Package
from billing.packages.sold import MonthlyRun, PackageSold


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


STATES = {"open": ("ready", ""), "used up": ("plain", ""), "lapsed": ("ask", ""), "closed": ("plain", "")}
RUN_STATES = {"running": ("ready", ""), "proposed": ("info", ""), "finished": ("plain", "")}


class PackageTable(Table):
    name = NameColumn(verbose_name="Package")
    payer = tables.Column(accessor="payer__name", verbose_name="Whose")
    left = NumberColumn(verbose_name="Left")
    ends_on = DayColumn(verbose_name="Until")
    state = ChipColumn(tones=STATES, verbose_name="State")
    price = MoneyColumn()
    sold_on = DayColumn(verbose_name="Sold")

    class Meta(Table.Meta):
        model = PackageSold
        fields = ["name", "payer", "left", "ends_on", "state", "price", "sold_on"]

    def render_left(self, value: int, record: Any) -> str:
        return f"{value} of {record.held}"


class PackageFilter(FilterSet):
    search_in = ("name", "payer__name")
    search_label = "Name or package"

    state = django_filters.ChoiceFilter(choices=[(state, state) for state in STATES], label="State")


class RunTable(Table):
    name = NameColumn(verbose_name="Plan")
    animal = tables.Column(accessor="animal__name", verbose_name="Horse")
    price = MoneyColumn(verbose_name="A month")
    state = ChipColumn(tones=RUN_STATES, verbose_name="State")
    start = DayColumn(verbose_name="Since")
    ends_on = DayColumn(verbose_name="Until")

    class Meta(Table.Meta):
        model = MonthlyRun
        fields = ["name", "animal", "price", "state", "start", "ends_on"]


class RunFilter(FilterSet):
    search_in = ("name", "animal__name")
    search_label = "Horse or plan"

    state = django_filters.ChoiceFilter(choices=[(state, state) for state in RUN_STATES], label="State")


class OfferFilter(FilterSet):
    search_in = ("name", "parts__service__name")

    is_offered = django_filters.BooleanFilter(label="On sale")
