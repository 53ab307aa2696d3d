from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from backoffice.ui.forms import Form, ModelForm
from clients.kit.models import Applicator, Fault, Inspection, Machine
from clients.kit.queries import applicators_in_use
from clients.paperwork.strokes import read_strokes


def hours_field() -> forms.DecimalField:
    return forms.DecimalField(label="Hours on its meter", min_value=0, max_digits=7, decimal_places=1, required=False)


class MachineForm(ModelForm):
    class Meta:
        model = Machine
        fields = ["name", "serial_number", "inspection_due", "applicators", "is_in_use", "note"]
        widgets = {"applicators": forms.CheckboxSelectMultiple}
        labels = {"inspection_due": "Next inspection due", "is_in_use": "In use"}
        help_texts = {"inspection_due": "From the day after, it cannot be booked or hired out until inspected."}

    def __init__(self, *args: Any, may_retire: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["applicators"].queryset = applicators_in_use()  # type: ignore[attr-defined]
        if not may_retire:
            del self.fields["is_in_use"]
            self.helper.layout.fields.remove("is_in_use")


class ApplicatorForm(ModelForm):
    class Meta:
        model = Applicator
        fields = ["name", "width_cm", "is_in_use"]
        labels = {"width_cm": "Width in cm", "is_in_use": "In use"}
        help_texts = {"width_cm": "The widest is for general upkeep, the narrowest for a small place."}


class TakeBackForm(Form):
    on = forms.DateField(label="Back on")
    condition = forms.CharField(
        label="How it came back", max_length=300, required=False, help_text="Look at case, lead, plug and applicators."
    )
    missing = forms.CharField(label="What did not come back", max_length=300, required=False)
    hours = hours_field()


class HandoverForm(Form):
    """Each line ticked by whoever takes the machine, the hour meter, a name, and a drawn signature."""

    ticked = forms.MultipleChoiceField(
        label="Read each line and tick it",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick every line, read together."},
    )
    hours = hours_field()
    name_typed = forms.CharField(label="Name of who takes it", max_length=120)
    strokes = forms.CharField(label="Signature", max_length=600_000, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, lines: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ticked"].choices = [(line, line) for line in lines]  # type: ignore[attr-defined]

    def clean_ticked(self) -> list[str]:
        given = list(self.cleaned_data["ticked"])
        left = len(self.fields["ticked"].choices) - len(given)  # type: ignore[attr-defined]
        if left:
            raise ValidationError(f"Tick every line; {left} still to read.")
        return given

    def clean_strokes(self) -> list[Any]:
        try:
            return list(read_strokes(self.cleaned_data["strokes"] or "[]"))
        except ValueError as fault:
            raise ValidationError(str(fault)) from None

    @property
    def drawn(self) -> str:
        """As it was sent, so that a form that comes back with errors loses no signature."""
        return str(self["strokes"].value() or "")


class InspectionForm(ModelForm):
    class Meta:
        model = Inspection
        fields = ["kind", "done_on", "due_on", "done_by", "note"]
        labels = {"kind": "What was looked over", "done_on": "Done on"}
        help_texts = {"due_on": "By the maker's manual or your own rule. From the day after, it cannot be booked."}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if data.get("done_on") and data.get("due_on") and data["due_on"] <= data["done_on"]:
            self.add_error("due_on", "The next one is due after this one.")
        return data


class FaultForm(ModelForm):
    class Meta:
        model = Fault
        fields = ["seen", "takes_out_of_use"]
        help_texts = {"seen": "What you saw, heard or smelled. A damaged lead, case or plug is never used."}


class PutRightForm(Form):
    how = forms.CharField(label="How it was put right, and by whom", max_length=300)
