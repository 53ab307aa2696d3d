"""One value on one scale; the scale is chosen before, so that only its own questions are asked."""

from decimal import Decimal
from typing import Any

from django import forms

from backoffice.ui.forms import Form
from clients.animals.forms import Dated, PastDay
from clients.animals.models import Measure
from clients.animals.scales import SCALES, say_number, to_cm, weight_by_tape

LEAST_TAPE, MOST_TAPE = Decimal(40), Decimal(280)


class MeasureForm(Dated, Form):
    """`value` is what the action takes: a number, or girth and length in centimeters."""

    number = forms.DecimalField(max_digits=6, decimal_places=1)
    girth = forms.DecimalField(max_digits=5, decimal_places=1)
    length = forms.DecimalField(
        max_digits=5, decimal_places=1, help_text="Point of the shoulder to point of the buttock."
    )
    taken_on = PastDay(label="Day")
    given_by = forms.CharField(max_length=120)
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, kind: Measure.Kind, in_inches: bool, by: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.scale, self.in_inches = SCALES[kind], in_inches
        self.is_tape = kind == Measure.Kind.TAPE
        for name in ("number",) if self.is_tape else ("girth", "length"):
            del self.fields[name]
        unit = "inches" if in_inches else "cm"
        self._call("girth", f"Girth, {unit}")
        self._call("length", f"Length, {unit}")
        self._call("number", f"{self.scale.title}{f', {self.scale.unit}' if self.scale.unit else ''}")
        self._call("given_by", "The vet who graded it" if kind == Measure.Kind.LAMENESS else "Who measured")
        self.fields["given_by"].initial = "" if self.scale.whose else by

    def _call(self, name: str, label: str) -> None:
        if name in self.fields:
            self.fields[name].label = label
            self.fields[name].error_messages["required"] = f"{label} is missing."

    def clean_number(self) -> Decimal:
        number: Decimal = self.cleaned_data["number"]
        fault = self.scale.fault(number)
        if fault:
            raise forms.ValidationError(fault)
        return number

    def clean_girth(self) -> Decimal:
        return self._tape("girth")

    def clean_length(self) -> Decimal:
        return self._tape("length")

    def _tape(self, name: str) -> Decimal:
        given: Decimal = self.cleaned_data[name]
        cm = to_cm(given) if self.in_inches else given
        if not LEAST_TAPE <= cm <= MOST_TAPE:
            least, most = ("16", "110") if self.in_inches else (say_number(LEAST_TAPE), say_number(MOST_TAPE))
            raise forms.ValidationError(f"A tape around or along a horse shows between {least} and {most}.")
        return cm

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.is_tape and {"girth", "length"} <= cleaned.keys():
            fault = self.scale.fault(weight_by_tape(cleaned["girth"], cleaned["length"]))
            if fault:
                raise forms.ValidationError(fault)
        return cleaned

    @property
    def value(self) -> Decimal | tuple[Decimal, Decimal]:
        given = self.cleaned_data
        return (given["girth"], given["length"]) if self.is_tape else given["number"]
