"""What a stop costs: the fields of the chosen way, and no others."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, ClassVar

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms

from billing.prices.forms import RateForm
from billing.prices.models import CallOutBand, CallOutRule

BANDS = 5
FIELDS = {CallOutRule.Way.FLAT: ("amount",), CallOutRule.Way.BANDS: (), CallOutRule.Way.FREE: ("free", "per_unit")}


class CallOutForm(RateForm):
    """`way` is one of `CallOutRule.Way`: another one is another form, one tap away."""

    amounts = ("amount", "per_unit", "minimum")
    ways: ClassVar[list[tuple[str, str]]] = list(CallOutRule.Way.choices)

    class Meta:
        model = CallOutRule
        fields = ["way", "zone", "amount", "free", "per_unit", "minimum", "split", "since"]
        widgets = {"way": forms.HiddenInput}
        labels = {
            "amount": "Amount a stop",
            "free": "Free up to this distance",
            "per_unit": "Then, for each one farther",
            "minimum": "But at least",
            "split": "Who shares it",
        }
        help_texts = {
            "zone": "As written at the barn. Empty: every barn without a zone of its own.",
            "minimum": "What a stop costs wherever it is charged at all. 0: nothing at least.",
        }

    def __init__(self, *args: Any, way: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        typed = self.data.get("way", "") if self.is_bound else ""
        known = [typed, way, self.initial.get("way", ""), CallOutRule.Way.FLAT.value]
        self.chosen = CallOutRule.Way(next(each for each in known if each in CallOutRule.Way.values))
        self.initial["way"] = self.chosen.value
        self.fields["way"].required = False
        for name in {"amount", "free", "per_unit"} - set(FIELDS[self.chosen]):
            del self.fields[name]
        if self.chosen == CallOutRule.Way.FLAT:
            del self.fields["minimum"]
        else:
            self.fields["minimum"].required = False
        self.helper.layout = self._layout()

    def _layout(self) -> Layout:
        first: list[Any] = ["way", *FIELDS[self.chosen]]
        if self.chosen == CallOutRule.Way.BANDS:
            first.append(Fieldset("Bands, the nearest first", *self._bands()))
        return Layout(*first, *(["minimum"] if "minimum" in self.fields else []), "split", "zone", "since")

    def _bands(self) -> list[Div]:
        written = list(self.instance.bands.all()) if self.instance.pk else []
        for place in range(1, BANDS + 1):
            known = written[place - 1] if place <= len(written) else None
            self.fields[f"to_{place}"] = forms.DecimalField(
                label="Up to, with it",
                min_value=Decimal("0.1"),
                max_value=Decimal(10_000),
                decimal_places=1,
                required=False,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "class": "figure"}),
                error_messages={"invalid": "Write a distance in figures.", "min_value": "Write 0.1 or more."},
            )
            self.initial[f"to_{place}"] = known.to if known else None
            self.amount_of(f"band_{place}", "Amount", known.amount if known else None)
        return [Div(f"to_{place}", f"band_{place}", css_class="pair") for place in range(1, BANDS + 1)]

    def clean_way(self) -> str:
        return self.chosen.value

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "minimum" in self.fields and cleaned.get("minimum") is None and "minimum" not in self.errors:
            cleaned["minimum"] = Decimal(0)
        for place in range(1, BANDS + 1):
            if cleaned.get(f"to_{place}") is not None and cleaned.get(f"band_{place}") is None:
                self.add_error(f"band_{place}", "Write what a stop in this band costs.")
        return cleaned

    @property
    def rows(self) -> Sequence[CallOutBand]:
        """A last band without an end holds for every distance beyond."""
        pairs = [
            (self.cleaned_data.get(f"to_{place}"), self.cleaned_data.get(f"band_{place}"))
            for place in range(1, BANDS + 1)
        ]
        return [CallOutBand(to=to, amount=amount) for to, amount in pairs if amount is not None]
