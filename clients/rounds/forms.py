from typing import Any

from django import forms

from backoffice.access.models import User
from backoffice.ui.forms import Form
from backoffice.ui.spoken import Spoken
from clients.rounds.models import FailedDay
from clients.visits.queries import practitioners


class PlanningForm(Form):
    weeks = forms.ChoiceField(label="How far", choices=[(2, "Two weeks"), (3, "Three weeks"), (4, "Four weeks")])
    people = forms.ModelMultipleChoiceField(
        User.objects.none(), label="Whose rounds", widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].queryset = practitioners()  # type: ignore[attr-defined]


class FailForm(Spoken, Form):
    spoken = ("words",)

    cause = forms.ChoiceField(label="What happened", choices=FailedDay.Cause.choices, widget=forms.RadioSelect)
    words = forms.CharField(
        label="What owners are told",
        max_length=120,
        help_text="A word or two that begin each message, such as: Snow on the roads.",
    )
