import django_tables2 as tables

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, Table
from clients.incidents.models import Incident


class IncidentTable(Table):
    happened_at = DayColumn(verbose_name="Day")
    what = NameColumn(verbose_name="What happened", linkify=lambda record: record.get_absolute_url())
    animal = tables.Column(verbose_name="Horse", linkify=True)
    barn = tables.Column(linkify=True)
    hurt = tables.Column(orderable=False, empty_values=(), verbose_name="Hurt or damaged")

    class Meta(Table.Meta):
        model = Incident
        fields = ("what", "happened_at", "animal", "barn", "hurt")
        order_by = "-happened_at"

    def render_what(self, value: str) -> str:
        return value if len(value) <= 80 else f"{value[:79]}…"

    def render_hurt(self, record: Incident) -> str:
        return ", ".join(record.hurt).capitalize() or "Nothing"


class IncidentFilter(FilterSet):
    search_in = ("what", "animal__name", "barn__name")
    search_label = "Search incident notes"

    class Meta:
        model = Incident
        fields = ["horse_hurt", "person_hurt", "thing_damaged"]
