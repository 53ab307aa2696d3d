from typing import Any

from crispy_forms.layout import Fieldset, Layout
from django import forms

from backoffice.ui.forms import Form, ModelForm
from clients.incidents.models import Incident

NOT_OF_PEOPLE = "Never write down somebody’s pregnancy or implant; “notice read out” is enough."


class IncidentForm(ModelForm):
    holds_horse = forms.BooleanField(
        label="Hold the horse with a stop note",
        required=False,
        help_text="Permission to work says hold until the note is closed with what the vet said.",
    )
    layout = Layout(
        Fieldset("Where and when", "animal", "barn", "happened_at"),
        Fieldset("The facts", "what", "present", "done", "vet_said"),
        Fieldset("Hurt or damaged", "horse_hurt", "person_hurt", "thing_damaged"),
        Fieldset("The horse from now on", "holds_horse"),
    )

    class Meta:
        model = Incident
        fields = [
            "animal",
            "barn",
            "happened_at",
            "what",
            "present",
            "done",
            "vet_said",
            "horse_hurt",
            "person_hurt",
            "thing_damaged",
        ]
        labels = {
            "animal": "Horse",
            "happened_at": "When",
            "vet_said": "Was the vet called, and what was said?",
            "horse_hurt": "A horse was hurt",
            "person_hurt": "A person was hurt",
            "thing_damaged": "A thing was damaged",
        }
        help_texts = {
            "what": "What was seen and heard, in order. No blame, no guess; an illness is the vet’s to name.",
            "present": f"Names, and what each was doing. {NOT_OF_PEOPLE}",
            "vet_said": "The name of the vet, when, and the words.",
        }
        widgets = {
            "what": forms.Textarea(attrs={"rows": 6}),
            "present": forms.Textarea(attrs={"rows": 2}),
            "done": forms.Textarea(attrs={"rows": 4}),
            "vet_said": forms.Textarea(attrs={"rows": 2}),
        }

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if not given.get("animal") and not given.get("barn") and not {"animal", "barn"} & set(self.errors):
            self.add_error("barn", "Name the horse, the place, or both.")
        if given.get("holds_horse") and not given.get("animal"):
            self.add_error("animal", "A stop note holds a horse: name the horse.")
        return given


class AdditionForm(Form):
    text = forms.CharField(
        label="What is added",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text=f"It stands under the note with today’s day and your name. {NOT_OF_PEOPLE}",
    )
