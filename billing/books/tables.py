import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, MoneyColumn, NameColumn, Table
from billing.books.models import Expense


class ExpenseTable(Table):
    what = NameColumn(linkify=lambda record: reverse("billing:expense", args=[record.pk]), verbose_name="What for")
    day = DayColumn()
    category = tables.Column()
    paid_from = tables.Column()
    amount = MoneyColumn()
    tax = MoneyColumn(verbose_name="Of it, tax")

    class Meta(Table.Meta):
        model = Expense
        fields = ["what", "day", "category", "paid_from", "amount", "tax"]


class ExpenseFilter(FilterSet):
    search_in = ("what",)

    category = django_filters.ChoiceFilter(choices=Expense.Category.choices, label="Category")
    day_from = django_filters.DateFilter(field_name="day", lookup_expr="gte", label="From")
    day_to = django_filters.DateFilter(field_name="day", lookup_expr="lte", label="To")
