import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import NameColumn, Table


class AccountTable(Table):
    name = NameColumn(
        accessor="name",
        order_by=("first_name", "last_name", "username"),
        linkify=lambda record: reverse("backoffice:account-edit", args=[record.pk]),
        under=lambda record: record.username,
    )
    role = tables.Column(accessor="get_role_display", order_by="role")
    drives_rounds = tables.Column(verbose_name="Drives rounds")
    is_active = tables.Column(verbose_name="Account", order_by="-is_active")

    class Meta(Table.Meta):
        model = User
        fields = ("name", "role", "drives_rounds", "is_active")

    def render_drives_rounds(self, value: bool) -> str:
        return "Yes" if value else "No"

    def render_is_active(self, value: bool) -> str:
        return "Open" if value else "Closed"


class AccountFilter(FilterSet):
    search_in = ("first_name", "last_name", "username")
    role = django_filters.ChoiceFilter(choices=[(role.value, role.label) for role in Role], empty_label="Any role")

    class Meta:
        model = User
        fields = ["role"]
