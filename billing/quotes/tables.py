import django_filters
import django_tables2 as columns

from backoffice.ui.chips import chip
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, NumberColumn, Table
from billing.quotes.models import Quote

TONES: dict[str, tuple[str, str]] = {
    Quote.State.DRAFT: ("plain", "pen"),
    Quote.State.OFFERED: ("info", ""),
    Quote.State.ACCEPTED: ("ready", ""),
    Quote.State.DECLINED: ("plain", ""),
    Quote.State.LAPSED: ("ask", ""),
    Quote.State.REPLACED: ("plain", ""),
}


def under_title(quote: Quote) -> str:
    return ", ".join(horse.animal.name for horse in quote.horses.all())


class QuoteTable(Table):
    title = NameColumn(verbose_name="Quote", under=under_title)
    person = columns.Column(verbose_name="For", linkify=True)
    standing = columns.Column(verbose_name="State")
    number = NumberColumn()
    start = DayColumn(verbose_name="Starts")
    expires_on = DayColumn(verbose_name="Answer by")
    option_count = NumberColumn(verbose_name="Options")

    def render_standing(self, value: str) -> str:
        return chip(Quote.State(value).label, *TONES[value])

    def value_standing(self, value: str) -> str:
        return str(Quote.State(value).label)

    class Meta(Table.Meta):
        model = Quote
        fields = ("title", "person", "standing", "number", "start", "expires_on", "option_count")


class QuoteFilter(FilterSet):
    search_in = ("title", "person__name", "horses__animal__name")
    search_label = "Search quotes, owners, horses"

    state = django_filters.ChoiceFilter(field_name="standing", choices=Quote.State.choices)

    class Meta:
        model = Quote
        fields = ("state",)
