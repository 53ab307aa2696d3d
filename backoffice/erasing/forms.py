from django import forms

from backoffice.keeping.models import Erasure, KeepRule
from backoffice.ui.forms import Form, ModelForm


class KeepRuleForm(ModelForm):
    class Meta:
        model = KeepRule
        fields = ("years", "why", "since")
        help_texts = {
            "years": "0: nothing keeps it once it is asked for.",
            "why": "Who told you, or where it is written. It is printed on erasure certificates.",
        }


class EraseForm(Form):
    asked = forms.ChoiceField(label="Why now", choices=Erasure.Asked.choices, widget=forms.RadioSelect)
    sure = forms.BooleanField(label="I have read what goes and what stays. What goes cannot be brought back.")
