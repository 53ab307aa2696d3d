"""The base of every list's search and filters."""

from functools import reduce
from operator import or_
from typing import Any, ClassVar

import django_filters
from django import forms
from django.db.models import Q, QuerySet

from backoffice.ui.fields import prepare_fields

LONGEST_SEARCH = 200


class FilterSet(django_filters.FilterSet):  # type: ignore[misc]
    """Search by `q` over the lookups named in `search_in`: every word must be found in one of them."""

    search_in: ClassVar[tuple[str, ...]] = ()
    search_label: ClassVar[str] = "Search"

    q = django_filters.CharFilter(method="search", label="Search", max_length=LONGEST_SEARCH)

    def search(self, queryset: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if not (self.search_in and value.split()):
            return queryset
        found = Q()
        for word in value.split():
            found &= reduce(or_, (Q(**{f"{lookup}__icontains": word}) for lookup in self.search_in))
        # a subquery, so that a search through a to-many relation neither doubles rows nor disturbs totals
        return queryset.filter(pk__in=queryset.model._default_manager.filter(found).values("pk"))

    @property
    def form(self) -> forms.Form:
        first = not hasattr(self, "_form")
        form: forms.Form = super().form
        if first:
            prepare_fields(form)
            form.fields["q"].widget = forms.TextInput(
                attrs={"type": "search", "autocomplete": "off", "placeholder": self.search_label}
            )
            form.fields["q"].label = self.search_label
        return form

    @property
    def narrowing(self) -> int:
        """How many filters besides the search are switched on."""
        if not self.is_bound or not self.form.is_valid():
            return 0
        return sum(1 for name, value in self.form.cleaned_data.items() if name != "q" and value not in (None, "", []))

    @property
    def is_active(self) -> bool:
        return bool(self.narrowing or (self.is_bound and self.data.get("q", "").strip()))
