import django_filters
import django_tables2 as tables

from backoffice.letters.models import Letter
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, NameColumn, Table

STATES: dict[str, tuple[str, str]] = {
    Letter.State.WAITING: ("ask", ""),
    Letter.State.SENT: ("ready", ""),
    Letter.State.BY_HAND: ("ready", ""),
    Letter.State.DROPPED: ("plain", ""),
}


class LetterTable(Table):
    subject = NameColumn(under=lambda record: record.to)
    kind = tables.Column(accessor="get_kind_display", order_by="kind", verbose_name="What")
    state = ChipColumn(accessor="state", tones=STATES, verbose_name="State")
    made_at = DayColumn(verbose_name="Written")

    class Meta(Table.Meta):
        model = Letter
        fields = ("subject", "kind", "state", "made_at")
        order_by = "-made_at"


class LetterFilter(FilterSet):
    search_in = ("subject", "to")
    search_label = "Subject or address"

    state = django_filters.ChoiceFilter(choices=Letter.State.choices, label="State", empty_label="Any state")
    kind = django_filters.ChoiceFilter(choices=Letter.Kind.choices, label="What", empty_label="Any kind")

    class Meta:
        model = Letter
        fields = ["state", "kind"]
