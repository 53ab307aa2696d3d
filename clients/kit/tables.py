import django_tables2 as tables
from django.urls import reverse

from backoffice.access.powers import Power
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, NumberColumn, Table
from clients.kit.models import Applicator, Machine


class MachineTable(Table):
    name = NameColumn()
    inspection_due = DayColumn(verbose_name="Inspection due")
    out = tables.Column(empty_values=(), orderable=False, verbose_name="On hire")
    is_in_use = tables.Column(verbose_name="In use")

    class Meta(Table.Meta):
        model = Machine
        fields = ["name", "serial_number", "inspection_due", "out", "is_in_use"]

    def render_out(self, record: Machine) -> str:
        hires = [f"{hire.person} to {hire.until:%a} {hire.until.day} {hire.until:%b}" for hire in record.hires.all()]
        return ", ".join(hires) or "–"

    def render_is_in_use(self, value: bool) -> str:
        return "Yes" if value else "No"


class MachineFilter(FilterSet):
    search_in = ("name", "serial_number")
    search_label = "Search machines"

    class Meta:
        model = Machine
        fields = ["is_in_use"]


class ApplicatorTable(Table):
    name = NameColumn(linkify=lambda record, table: _edit(record, table))
    width_cm = NumberColumn(verbose_name="Width, cm")
    is_in_use = tables.Column(verbose_name="In use")

    class Meta(Table.Meta):
        model = Applicator
        fields = ["name", "width_cm", "is_in_use"]

    def render_is_in_use(self, value: bool) -> str:
        return "Yes" if value else "No"


def _edit(record: Applicator, table: Table) -> str | None:
    may_change = table.request.user.may(Power.CHANGE_CARE)
    return reverse("clients:applicator-edit", args=[record.pk]) if may_change else None


class ApplicatorFilter(FilterSet):
    search_in = ("name",)
    search_label = "Search applicators"

    class Meta:
        model = Applicator
        fields = ["is_in_use"]
