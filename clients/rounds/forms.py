from django import forms

from backoffice.ui.forms import Form
from backoffice.ui.spoken import Spoken
from clients.rounds.models import FailedDay


class FailForm(Spoken, Form):
    spoken = ("words",)

    cause = forms.ChoiceField(label="What happened", choices=FailedDay.Cause.choices, widget=forms.RadioSelect)
    words = forms.CharField(
        label="What owners are told",
        max_length=120,
        help_text="A word or two that begin each message, such as: Snow on the roads.",
    )
