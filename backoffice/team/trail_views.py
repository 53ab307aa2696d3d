"""The trail of changes: who did what, when, to what; each line leads to it where it has a page."""

from typing import Any

import django_filters
import django_tables2 as tables
from django.apps import apps
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import NoReverseMatch
from django.utils import timezone
from django.views.decorators.http import require_safe

from backoffice.access.doors import needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.audit.models import Entry
from backoffice.ui.filters import FilterSet
from backoffice.ui.lists import render_list
from backoffice.ui.tables import NameColumn, Table

BY_ITSELF = "by itself"


class ActionColumn(NameColumn):
    """What was done as a sentence begins, over what changed."""

    def render(self, value: str, record: Entry) -> str:
        return super().render(value[:1].upper() + value[1:], record)


class EntryTable(Table):
    action = ActionColumn(linkify=lambda record: _page_of(record), under=lambda record: _said(record.changes))
    about = tables.Column(accessor="target", order_by=("target", "target_pk"), verbose_name="About")
    by = tables.Column(accessor="by", order_by=("by__first_name", "by__username"), default=BY_ITSELF)
    via = tables.Column(verbose_name="By way of")
    at = tables.Column(verbose_name="When")

    class Meta(Table.Meta):
        model = Entry
        fields = ("action", "about", "by", "via", "at")
        order_by = "-number"

    def render_about(self, record: Entry) -> str:
        return f"{_kind(record.target)} {record.target_pk}"

    def render_at(self, value: Any) -> str:
        return f"{timezone.localtime(value):%a %-d %b %Y, %-H:%M:%S}"


class EntryFilter(FilterSet):
    search_in = ("action", "target_pk")
    search_label = "What was done, or a number"

    by = django_filters.ModelChoiceFilter(queryset=User.objects.order_by("first_name", "username"), label="By")
    target = django_filters.ChoiceFilter(choices=lambda: _kinds(), label="About")
    since = django_filters.DateFilter(field_name="at", lookup_expr="date__gte", label="From")
    until = django_filters.DateFilter(field_name="at", lookup_expr="date__lte", label="To")

    class Meta:
        model = Entry
        fields = ["by", "target", "since", "until"]


def _kinds() -> list[tuple[str, str]]:
    labels = [model._meta.label_lower for model in apps.get_models() if model._meta.app_label in OUR_APPS]
    return sorted(((label, _kind(label)) for label in labels), key=lambda pair: pair[1])


OUR_APPS = {"backoffice", "clients", "billing"}


def _kind(label: str) -> str:
    """Such as "Invoice" of "billing.invoice"; the label itself for a table that is no more."""
    try:
        words = str(apps.get_model(label)._meta.verbose_name)
    except LookupError:
        return label
    return words[:1].upper() + words[1:]


def _page_of(entry: Entry) -> str | None:
    """The page of what was changed, found without reading it: addresses are made of keys."""
    try:
        page = getattr(apps.get_model(entry.target)(pk=entry.target_pk), "get_absolute_url", None)
        return page() if page else None
    except (LookupError, NoReverseMatch, ValueError, AttributeError):
        return None


def _said(changes: dict[str, Any]) -> str:
    return "; ".join(f"{name.replace('_', ' ')}: {_value(value)}" for name, value in changes.items())[:300]


def _value(value: Any) -> str:
    if isinstance(value, list) and len(value) == 2:
        return f"{_value(value[0])} → {_value(value[1])}"
    if isinstance(value, list):
        return ", ".join(map(_value, value))
    if isinstance(value, dict):
        return "…"
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    return str(value)


def entries() -> QuerySet[Entry]:
    return Entry.objects.select_related("by").order_by("-number")


@require_safe
@needs(Power.CHANGE_SETTINGS)
def trail(request: HttpRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=EntryTable,
        filterset=EntryFilter(request.GET, queryset=entries(), request=request),
        heading="Trail",
        context={"kicker": "Settings"},
        empty=("Nothing changed yet", "Each change of a record is written down here, with who made it and when."),
    )
