from django import forms

from backoffice.ui.forms import Form, ModelForm
from clients.kit.models import Applicator, Machine


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
