import django_filters
import django_tables2 as tables

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, MoneyColumn, Table
from billing.banking.models import BankLine

STATES: dict[str, tuple[str, str]] = {
    BankLine.State.WAITING: ("ask", ""),
    BankLine.State.BOOKED: ("ready", ""),
    BankLine.State.TIED: ("ready", ""),
    BankLine.State.ASIDE: ("plain", ""),
    BankLine.State.OUT: ("plain", ""),
}


class BankLineTable(Table):
    day = DayColumn()
    name = tables.Column(verbose_name="Who")
    text = tables.Column(verbose_name="What it says")
    state = ChipColumn(tones=STATES)
    amount = MoneyColumn()

    class Meta(Table.Meta):
        model = BankLine
        fields = ["day", "name", "text", "state", "amount"]


class BankLineFilter(FilterSet):
    search_in = ("name", "text", "reference")

    state = django_filters.ChoiceFilter(choices=BankLine.State.choices, label="State")
    day_from = django_filters.DateFilter(field_name="day", lookup_expr="gte", label="From")
    day_to = django_filters.DateFilter(field_name="day", lookup_expr="lte", label="To")
