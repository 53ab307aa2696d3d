from typing import Any

from django import forms

from backoffice.ui.forms import Form, ModelForm
from clients.kit.models import Applicator, Fault, Inspection, Machine


class MachineForm(ModelForm):
    class Meta:
        model = Machine
        fields = ["name", "serial_number", "inspection_due", "is_in_use", "note"]
        labels = {"inspection_due": "Next inspection due", "is_in_use": "In use"}
        help_texts = {"inspection_due": "From the day after, it cannot be booked or hired out until inspected."}


class ApplicatorForm(ModelForm):
    class Meta:
        model = Applicator
        fields = ["name", "width_cm", "is_in_use"]
        labels = {"width_cm": "Width in cm", "is_in_use": "In use"}
        help_texts = {"width_cm": "The widest is for general upkeep, the narrowest for a small place."}


class TakeBackForm(Form):
    on = forms.DateField(label="Back on")


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
