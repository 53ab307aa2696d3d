from decimal import Decimal

import django_filters
import django_tables2 as tables

from backoffice.access.models import User
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, NumberColumn, Table
from backoffice.ui.words import METERS_IN
from clients.miles.models import Trip


class TripTable(Table):
    day = DayColumn()
    places = NameColumn(verbose_name="From where to where", linkify=lambda record: record.get_absolute_url())
    purpose = tables.Column()
    driver = tables.Column()
    metres = NumberColumn(verbose_name="Distance")
    measured = tables.Column(verbose_name="Measured by")
    replaces = tables.Column(verbose_name="Corrected", orderable=False, empty_values=())

    class Meta(Table.Meta):
        model = Trip
        fields = ("places", "day", "purpose", "driver", "metres", "measured", "replaces")
        order_by = "-day"

    def render_metres(self, value: int) -> str:
        unit = self.request.business.distance_unit
        return f"{(Decimal(value) / METERS_IN[unit]).quantize(Decimal('0.1'))} {unit}"

    def value_metres(self, value: int) -> str:
        return self.render_metres(value)

    def render_replaces(self, record: Trip) -> str:
        return "Yes" if record.replaces_id else "–"


class TripFilter(FilterSet):
    search_in = ("places", "purpose")
    search_label = "Search the log"
    since = django_filters.DateFilter(field_name="day", lookup_expr="gte", label="From")
    until = django_filters.DateFilter(field_name="day", lookup_expr="lte", label="To")
    driver = django_filters.ModelChoiceFilter(queryset=User.objects.filter(drives_rounds=True))

    class Meta:
        model = Trip
        fields = ["since", "until", "driver", "measured"]
