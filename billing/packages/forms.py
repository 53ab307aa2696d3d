from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms

from billing.packages.models import MOST_SESSIONS, MonthlyPart, MonthlyPlan, Package, PackagePart
from billing.prices.forms import RateForm, tax_category_field
from clients.plans.models import Service

PARTS = 4
WHOLE = {"invalid": "Write a whole number, in figures.", "min_value": "Write 1 or more."}


class OfferForm(RateForm):
    """A name, a price, and a few lines of service and number."""

    amounts = ("price",)
    has_beyond = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax_category"] = tax_category_field()
        self.initial.setdefault("tax_category", "standard")
        written = list(self.instance.parts.all()) if self.instance.pk else []
        lines = [
            self._line(place, written[place - 1] if place <= len(written) else None) for place in range(1, PARTS + 1)
        ]
        names = [name for name in self._meta.fields or () if name not in {"is_offered", "since"}]
        first, *rest = names
        self.helper.layout = Layout(first, Fieldset("What is in it", *lines), *rest, "is_offered", "since")

    def _line(self, place: int, known: Any) -> Div:
        self.fields[f"service_{place}"] = forms.ModelChoiceField(
            Service.objects.filter(is_offered=True), label="Service", required=False, empty_label="–"
        )
        self.fields[f"count_{place}"] = forms.IntegerField(
            label="How many",
            min_value=1,
            max_value=MOST_SESSIONS,
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"}),
            error_messages={**WHOLE, "max_value": f"Write {MOST_SESSIONS} or less."},
        )
        self.initial[f"service_{place}"] = known.service_id if known else None
        self.initial[f"count_{place}"] = known.count if known else None
        names = [f"service_{place}", f"count_{place}"]
        if self.has_beyond:
            self.amount_of(f"beyond_{place}", "Each one more", known.beyond if known else None)
            names.append(f"beyond_{place}")
        return Div(*names, css_class="pair")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for place in range(1, PARTS + 1):
            service, count = cleaned.get(f"service_{place}"), cleaned.get(f"count_{place}")
            if service and count is None and f"count_{place}" not in self.errors:
                self.add_error(f"count_{place}", "Write how many.")
            if count is not None and service is None and f"service_{place}" not in self.errors:
                self.add_error(f"service_{place}", "Choose the service.")
        return cleaned

    def lines(self) -> list[tuple[Service, int, Decimal | None]]:
        values = [
            (self.cleaned_data.get(f"service_{n}"), self.cleaned_data.get(f"count_{n}"), n) for n in range(1, PARTS + 1)
        ]
        return [
            (service, count, self.cleaned_data.get(f"beyond_{n}"))
            for service, count, n in values
            if service is not None and count is not None
        ]


class PackageForm(OfferForm):
    class Meta:
        model = Package
        fields = ["name", "price", "valid_days", "tax_category", "is_offered", "since"]
        help_texts = {
            "valid_days": "Counted from the day of sale. Empty: without an end.",
            "is_offered": "Untick it to stop selling. What is sold already goes on.",
        }

    @property
    def rows(self) -> Sequence[PackagePart]:
        return [PackagePart(service=service, count=count) for service, count, _ in self.lines()]


class MonthlyPlanForm(OfferForm):
    has_beyond = True

    class Meta:
        model = MonthlyPlan
        fields = ["name", "price", "tax_category", "is_offered", "since"]
        labels = {"price": "Price a month"}
        help_texts = {
            "price": "Due on the first day of each month, counted from the day it starts.",
            "is_offered": "Untick it to stop selling. What runs already goes on.",
        }

    @property
    def rows(self) -> Sequence[MonthlyPart]:
        return [MonthlyPart(service=service, count=count, beyond=beyond) for service, count, beyond in self.lines()]
