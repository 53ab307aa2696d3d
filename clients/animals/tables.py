from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Q, QuerySet
from django.utils.html import format_html_join

from backoffice.ui.chips import chip
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import NameColumn, Table
from clients.animals.models import Animal
from clients.people.models import Barn


def _looks(animal: Animal) -> str:
    parts = [animal.get_sex_display() if animal.sex != Animal.Sex.UNKNOWN else "", animal.color]
    parts += [f"born {animal.birth_year}" if animal.birth_year else ""]
    return ", ".join(part for part in parts if part)


def flags_of(animal: Any) -> list[tuple[str, str]]:
    """The words and tones of a listed horse's flags; the row must come from `animals_listed`."""
    flags = [
        (animal.died_on is not None, ("Died", "plain")),
        (animal.is_isolated, (animal.get_isolation_display(), "ask")),
        (animal.in_foal, ("In foal", "hold")),
        (animal.has_epm, ("EPM", "hold")),
        (animal.has_caution, ("Caution", "info")),
    ]
    return [flag for is_set, flag in flags if is_set]


class AnimalTable(Table):
    """What everybody with an account may see; no health."""

    name = NameColumn(under=_looks)
    barn = tables.Column(linkify=True)
    owners = tables.Column(accessor="owners_today", orderable=False, empty_values=())

    class Meta(Table.Meta):
        model = Animal
        fields: tuple[str, ...] = ("name", "barn", "owners")
        order_by = "name"

    def render_owners(self, value: list[Any]) -> str:
        return ", ".join(row.person.name for row in value) or "No owner yet"


class AnimalHealthTable(AnimalTable):
    flags = tables.Column(orderable=False, empty_values=())

    class Meta(AnimalTable.Meta):
        fields = (*AnimalTable.Meta.fields, "flags")

    def render_flags(self, record: Any) -> str:
        return format_html_join(" ", "{}", ((chip(word, tone),) for word, tone in flags_of(record))) or "–"

    def value_flags(self, record: Any) -> str:
        return ", ".join(word for word, _ in flags_of(record))


class AnimalFilter(FilterSet):
    search_in = ("name", "passport_name", "microchip", "ueln", "barn__name", "ownerships__person__name")
    search_label = "Search horses"

    barn = django_filters.ModelChoiceFilter(queryset=Barn.objects.all(), empty_label="Every barn")
    living = django_filters.ChoiceFilter(
        label="Living", choices=[("no", "Died"), ("all", "All")], empty_label="Living", method="among"
    )

    class Meta:
        model = Animal
        fields: list[str] = []

    def among(self, animals: QuerySet[Animal], name: str, value: str) -> QuerySet[Animal]:
        return animals if value == "all" else animals.filter(died_on__isnull=False)

    def filter_queryset(self, queryset: QuerySet[Animal]) -> QuerySet[Animal]:
        living = self.form.cleaned_data.get("living")
        found: QuerySet[Animal] = super().filter_queryset(queryset)
        return found if living else found.filter(died_on__isnull=True)


class AnimalHealthFilter(AnimalFilter):
    flag = django_filters.ChoiceFilter(
        label="Flag",
        choices=[
            ("is_isolated", "Exposed or isolated"),
            ("in_foal", "In foal"),
            ("has_epm", "EPM"),
            ("has_caution", "Caution"),
        ],
        empty_label="Any",
        method="flagged",
    )

    def flagged(self, animals: QuerySet[Animal], name: str, value: str) -> QuerySet[Animal]:
        return animals.filter(Q(**{value: True}))
