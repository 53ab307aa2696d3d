from typing import Any

import django_filters
import django_tables2 as tables

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, NumberColumn, Table
from clients.people.models import Barn, Person, VetPractice


def _what_they_are(person: Person) -> str:
    if person.kind == Person.Kind.ORGANIZATION:
        return "Organization"
    return "Too young to sign" if person.under_age else ""


class PersonTable(Table):
    name = NameColumn(under=_what_they_are)
    phone = tables.Column(empty_values=(None,))
    email = tables.Column(empty_values=(None,))
    horses = NumberColumn()
    asked_on = DayColumn(verbose_name="First asked")

    class Meta(Table.Meta):
        model = Person
        fields = ("name", "phone", "email", "horses", "asked_on")
        order_by = "name"

    def render_phone(self, value: str) -> str:
        return value or "Not yet"

    def render_email(self, value: str) -> str:
        return value or "Not yet"

    def value_phone(self, value: str) -> str:
        return value

    def value_email(self, value: str) -> str:
        return value


class PersonFilter(FilterSet):
    search_in = ("name", "phone", "email", "address", "asked_about", "note")
    search_label = "Search people"

    kind = django_filters.ChoiceFilter(choices=Person.Kind.choices, empty_label="Everybody")
    under_age = django_filters.BooleanFilter(label="Too young to sign")
    missing = django_filters.ChoiceFilter(
        label="Still missing",
        choices=[("phone", "Phone number"), ("email", "Email"), ("address", "Address")],
        method="without",
    )

    class Meta:
        model = Person
        fields: list[str] = []

    def without(self, people: Any, name: str, value: str) -> Any:
        return people.filter(**{value: ""})


def _where(barn: Barn) -> str:
    on_map = "" if barn.is_placed else "not on the map yet"
    return " · ".join(part for part in (barn.area, barn.area_day_names, on_map) if part)


class BarnTable(Table):
    name = NameColumn(under=_where)
    kind = tables.Column()
    horses = NumberColumn()
    power = tables.Column()
    signal = tables.Column()
    windows = tables.Column(orderable=False, empty_values=(), verbose_name="Times")

    class Meta(Table.Meta):
        model = Barn
        fields = ("name", "kind", "horses", "power", "signal", "windows")
        order_by = "name"

    def render_windows(self, record: Barn) -> str:
        times = [
            str(window) if window.weekday is None else f"{window.day_name} {window}" for window in record.windows.all()
        ]
        return ", ".join(times) or "Any"


class BarnFilter(FilterSet):
    search_in = ("name", "address", "area", "note", "phone", "contact__name")
    search_label = "Search barns"

    kind = django_filters.ChoiceFilter(choices=Barn.Kind.choices, empty_label="Every kind")
    area = django_filters.AllValuesFilter(empty_label="Everywhere")
    power = django_filters.ChoiceFilter(choices=Barn.Answer.choices, empty_label="Any")
    signal = django_filters.ChoiceFilter(choices=Barn.Signal.choices, empty_label="Any")
    off_map = django_filters.BooleanFilter(label="Not on the map yet", field_name="lat", lookup_expr="isnull")

    class Meta:
        model = Barn
        fields: list[str] = []


class VetPracticeTable(Table):
    name = NameColumn()
    vet_name = tables.Column(verbose_name="Usual vet")
    phone = tables.Column()
    email = tables.Column()
    horses = NumberColumn()

    class Meta(Table.Meta):
        model = VetPractice
        fields = ("name", "vet_name", "phone", "email", "horses")
        order_by = "name"


class VetPracticeFilter(FilterSet):
    search_in = ("name", "vet_name", "phone", "email", "address")
    search_label = "Search vet practices"

    class Meta:
        model = VetPractice
        fields: list[str] = []
