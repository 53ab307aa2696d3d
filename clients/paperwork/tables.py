from typing import Any

import django_filters
import django_tables2 as tables

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, NameColumn, Table
from clients.paperwork.models import Form, Wording

TONES = {
    Form.State.TO_SIGN.value: ("ask", "pen"),
    Form.State.SIGNED.value: ("ready", ""),
    Form.State.WITHDRAWN.value: ("plain", ""),
    Form.State.LAPSED.value: ("hold", ""),
}


class StateColumn(ChipColumn):
    """The state as of the day of the list, in its own word."""

    def render(self, value: Any, record: Any, bound_column: Any) -> str:
        return super().render(Form.State(value).label, record, bound_column) if value else ""

    def value(self, value: Any, **kwargs: Any) -> Any:
        return Form.State(value).label if value else ""


class FormTable(Table):
    title = NameColumn(accessor="wording_version__wording__title", linkify=lambda record: record.get_absolute_url())
    animal = tables.Column(verbose_name="Horse", linkify=True)
    barn = tables.Column(linkify=True)
    signer = tables.Column(linkify=True)
    state = StateColumn(accessor="shown_state", tones=TONES)
    valid_until = DayColumn(verbose_name="Until")

    class Meta(Table.Meta):
        model = Form
        fields = ("title", "animal", "barn", "signer", "state", "valid_until")
        order_by = "-made_at"


class FormFilter(FilterSet):
    search_in = ("wording_version__wording__title", "animal__name", "barn__name", "signer__name")
    search_label = "Search forms"

    state = django_filters.ChoiceFilter(
        field_name="shown_state", choices=Form.State.choices, empty_label="Every state", label="State"
    )
    kind = django_filters.ChoiceFilter(
        field_name="wording_version__wording__kind",
        choices=Wording.Kind.choices,
        empty_label="Every kind",
        label="Kind",
    )

    class Meta:
        model = Form
        fields: list[str] = []
