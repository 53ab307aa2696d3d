from typing import Any

import django_filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html

from backoffice.documents.models import Document
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, NameColumn, Table
from clients.paperwork.models import Form
from clients.paperwork.tables import TONES, StateColumn


class PaperTable(Table):
    tick = tables.Column(accessor="pk", verbose_name="Take", orderable=False, exclude_from_export=True)
    title = NameColumn(linkify=lambda record: reverse("backoffice:document", args=[record.pk]))
    kind = tables.Column()
    person_name = tables.Column(verbose_name="Person")
    horse_name = tables.Column(verbose_name="Horse")
    barn_name = tables.Column(verbose_name="Barn")
    form_state = StateColumn(verbose_name="State", tones=TONES)
    made_at = DayColumn(verbose_name="Day")

    class Meta(Table.Meta):
        model = Document
        fields = ("tick", "title", "kind", "person_name", "horse_name", "barn_name", "form_state", "made_at")
        order_by = "-made_at"

    def render_tick(self, value: int, record: Document) -> str:
        return format_html('<input type="checkbox" name="paper" value="{}" aria-label="Take {}">', value, record.title)

    def render_person_name(self, value: str) -> Any:
        return value or self.default

    def render_horse_name(self, value: str) -> Any:
        return value or self.default

    def render_barn_name(self, value: str) -> Any:
        return value or self.default


class PaperFilter(FilterSet):
    search_in = ("title", "person_name", "horse_name", "barn_name")
    search_label = "Search all paper"

    kind = django_filters.ChoiceFilter(choices=Document.Kind.choices, empty_label="Every kind", label="Kind")
    form_state = django_filters.ChoiceFilter(
        choices=Form.State.choices[1:], empty_label="Every state", label="State of a form"
    )
    since = django_filters.DateFilter(
        field_name="made_at", lookup_expr="date__gte", label="From", widget=forms.DateInput(attrs={"type": "date"})
    )
    until = django_filters.DateFilter(
        field_name="made_at", lookup_expr="date__lte", label="To", widget=forms.DateInput(attrs={"type": "date"})
    )

    class Meta:
        model = Document
        fields: list[str] = []

    def search(self, queryset: QuerySet[Document], name: str, value: str) -> QuerySet[Document]:
        """Person and horse are names that the shelf looked up, so the search is on its own rows."""
        for word in value.split():
            found = Q()
            for lookup in self.search_in:
                found |= Q(**{f"{lookup}__icontains": word})
            queryset = queryset.filter(found)
        return queryset
