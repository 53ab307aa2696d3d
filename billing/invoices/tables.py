from typing import Any

import django_filters
from django.db.models import QuerySet

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, MoneyColumn, NameColumn, Table
from billing.invoices.models import Invoice

STATES = {
    "draft": ("plain", "paper"),
    "due": ("info", ""),
    "part-paid": ("ask", ""),
    "paid": ("ready", ""),
    "overdue": ("hold", ""),
    "credited": ("plain", ""),
    "written off": ("plain", ""),
}


class InvoiceTable(Table):
    number = NameColumn(accessor="name", order_by=("number",), verbose_name="Invoice")
    payer = NameColumn(accessor="payer__name", linkify=False, verbose_name="For")
    issued_on = DayColumn(verbose_name="Date")
    due_on = DayColumn(verbose_name="Pay by")
    shown = ChipColumn(tones=STATES, verbose_name="State")
    total = MoneyColumn()
    open = MoneyColumn(verbose_name="Still open")

    class Meta(Table.Meta):
        model = Invoice
        fields = ["number", "payer", "issued_on", "due_on", "shown", "total", "open"]


class InvoiceFilter(FilterSet):
    search_in = ("payer__name", "number", "brought_as", "lines__text")
    search_label = "Number, name or horse"

    shown = django_filters.ChoiceFilter(choices=[(state, state) for state in STATES], label="State")
    issued_from = django_filters.DateFilter(field_name="issued_on", lookup_expr="gte", label="Dated from")
    issued_to = django_filters.DateFilter(field_name="issued_on", lookup_expr="lte", label="Dated to")

    def search(self, queryset: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        """The sums of a row must not be counted once a line, so the search happens on its own."""
        found = super().search(Invoice.objects.all(), name, value)
        return queryset.filter(pk__in=found.values("pk"))
