from typing import Any

import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.access.powers import Power
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, MoneyColumn, NumberColumn, Table
from backoffice.ui.words import money
from billing.prices.models import CallOutRule, HireRate, PayerCap, PersonTerms, Price, TaxExemption, TaxRate
from billing.prices.rules import CostRates, FeeRule, MileageRate, MoneyRules
from billing.prices.words import plain_number, say_call_out, say_deposit


class RateTable(Table):
    """Rows that hold from a day on; the first column leads to the page that changes one."""

    since = DayColumn(verbose_name="From")


class BreaksColumn(tables.Column):  # type: ignore[misc]
    def render(self, value: Any, table: Any) -> str:
        business = table.request.business
        return ", ".join(f"{tier.count} or more: {money(tier.amount, business)}" for tier in value.all())

    def value(self, value: Any, table: Any) -> str:
        return str(self.render(value, table))


class PriceTable(RateTable):
    service = tables.Column(linkify=lambda record, table: _edit("prices", record, table))
    amount = MoneyColumn(verbose_name="Price")
    breaks = BreaksColumn(orderable=False, verbose_name="Lower with more")
    tax_category = tables.Column(verbose_name="Tax")

    class Meta(Table.Meta):
        model = Price
        fields = ["service", "amount", "breaks", "tax_category", "since"]


class CallOutTable(RateTable):
    zone = tables.Column(linkify=lambda record, table: _edit("call-outs", record, table), empty_values=())
    way = tables.Column(verbose_name="How it is counted", order_by=("way", "amount"))
    split = tables.Column(verbose_name="Who shares it")

    class Meta(Table.Meta):
        model = CallOutRule
        fields = ["zone", "way", "split", "since"]

    def render_zone(self, value: str) -> str:
        return value or "everywhere else"

    def render_way(self, record: CallOutRule) -> str:
        return say_call_out(record, self.request.business)

    def value_way(self, record: CallOutRule) -> str:
        return self.render_way(record)


class HireRateTable(RateTable):
    since = DayColumn(verbose_name="From", linkify=lambda record, table: _edit("hire-rates", record, table))
    day, week, training = MoneyColumn(), MoneyColumn(), MoneyColumn()
    follow_up, delivery, collection, deposit = MoneyColumn(), MoneyColumn(), MoneyColumn(), MoneyColumn()

    class Meta(Table.Meta):
        model = HireRate
        fields = ["since", "day", "week", "training", "follow_up", "delivery", "collection", "deposit"]


class TaxRateTable(RateTable):
    category = tables.Column(linkify=lambda record, table: _edit("tax-rates", record, table))
    percent = NumberColumn(verbose_name="Rate")
    is_included = tables.BooleanColumn(verbose_name="In the price", yesno="yes,no")
    text = tables.Column(verbose_name="Words on the invoice")

    class Meta(Table.Meta):
        model = TaxRate
        fields = ["category", "percent", "is_included", "text", "since"]

    def render_percent(self, value: Any) -> str:
        return f"{value.normalize():f} %"

    def render_is_included(self, value: bool) -> str:
        return "yes" if value else "no"


class PercentColumn(tables.Column):  # type: ignore[misc]
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(attrs={"td": {"class": "num"}, "th": {"class": "num"}}, **kwargs)

    def render(self, value: Any) -> str:
        return f"{plain_number(value)} %"


class RateColumn(NumberColumn):
    """An amount for each mile or kilometer, with all its decimals."""

    def render(self, value: Any, table: Any) -> str:
        return money(value, table.request.business, is_rate=True)


class FeeRuleTable(RateTable):
    since = DayColumn(verbose_name="From", linkify=lambda record, table: _edit("fee-rules", record, table))
    late_cancel = PercentColumn()
    absent = PercentColumn()
    wet = PercentColumn()
    dangerous = PercentColumn()
    refused = PercentColumn()
    with_call_out = tables.BooleanColumn(yesno="yes,no", verbose_name="Call-out")

    class Meta(Table.Meta):
        model = FeeRule
        fields = ["since", "late_cancel", "absent", "wet", "dangerous", "refused", "with_call_out"]


class MoneyRulesTable(RateTable):
    since = DayColumn(verbose_name="From", linkify=lambda record, table: _edit("money-rules", record, table))
    tax_rounding = tables.Column(verbose_name="Tax is rounded")
    deposit = tables.Column(verbose_name="Booking deposit")
    keeps_unused = tables.Column(verbose_name="A package’s rest at its end")

    class Meta(Table.Meta):
        model = MoneyRules
        fields = ["since", "tax_rounding", "deposit", "keeps_unused"]

    def render_deposit(self, record: MoneyRules) -> str:
        return say_deposit(record, self.request.business)

    def render_keeps_unused(self, value: bool) -> str:
        return "is kept" if value else "stays owed"


class MileageRateTable(RateTable):
    since = DayColumn(verbose_name="From", linkify=lambda record, table: _edit("mileage-rates", record, table))
    amount = RateColumn(verbose_name="Each mile or kilometer")
    limit = NumberColumn(verbose_name="Up to, a year")
    beyond = RateColumn(verbose_name="Beyond")

    class Meta(Table.Meta):
        model = MileageRate
        fields = ["since", "amount", "limit", "beyond", "year_starts", "source"]


class CostRatesTable(RateTable):
    since = DayColumn(verbose_name="From", linkify=lambda record, table: _edit("cost-rates", record, table))
    vehicle_per_mile = RateColumn(verbose_name="Vehicle, a mile")
    admin_minutes_per_visit = NumberColumn(verbose_name="Office minutes a visit")
    hourly_target = MoneyColumn(verbose_name="An hour should earn")

    class Meta(Table.Meta):
        model = CostRates
        fields = ["since", "vehicle_per_mile", "admin_minutes_per_visit", "hourly_target"]


class PersonTermsTable(RateTable):
    person = tables.Column(linkify=lambda record, table: _edit("terms", record, table))

    class Meta(Table.Meta):
        model = PersonTerms
        fields = ["person", "price_list", "since"]


class PayerCapTable(RateTable):
    person = tables.Column(linkify=lambda record, table: _edit("payer-caps", record, table))
    amount = MoneyColumn(verbose_name="At most")

    class Meta(Table.Meta):
        model = PayerCap
        fields = ["person", "amount", "per", "since"]


class TaxExemptionTable(RateTable):
    person = tables.Column(linkify=lambda record, table: _edit("tax-exemptions", record, table))
    until = DayColumn(verbose_name="Until")

    class Meta(Table.Meta):
        model = TaxExemption
        fields = ["person", "reason", "certificate", "since", "until"]


def _edit(kind: str, record: Any, table: Table) -> str | None:
    """The page that changes the row, for those who may."""
    needed = Power.CHANGE_MONEY if kind in {"terms", "payer-caps", "tax-exemptions"} else Power.CHANGE_SETTINGS
    return reverse("billing:rate-edit", args=[kind, record.pk]) if table.request.user.may(needed) else None


class PriceFilter(FilterSet):
    search_in = ("service__name", "tax_category")

    since_from = django_filters.DateFilter(field_name="since", lookup_expr="gte", label="From this day")


class CallOutFilter(FilterSet):
    search_in = ("zone",)

    split = django_filters.ChoiceFilter(choices=CallOutRule.Split.choices, label="Who shares it")


class SinceFilter(FilterSet):
    since_from = django_filters.DateFilter(field_name="since", lookup_expr="gte", label="From this day")


class TaxRateFilter(FilterSet):
    search_in = ("category", "text")

    is_included = django_filters.BooleanFilter(label="In the price")


class PayerCapFilter(FilterSet):
    search_in = ("person__name",)


class TaxExemptionFilter(FilterSet):
    search_in = ("person__name", "certificate", "reason")


class PersonTermsFilter(FilterSet):
    search_in = ("person__name", "price_list__name")
