from collections.abc import Sequence
from datetime import date
from typing import Any

from crispy_forms.layout import Fieldset, Layout
from django import forms

from backoffice.ui.fields import prepare_fields
from backoffice.ui.forms import Form
from clients.animals.models import Animal
from clients.plans.models import Service

TOO_LATE = "Work of today or later has a visit of its own."


class EarlierWorkForm(Form):
    service = forms.ModelChoiceField(Service.objects.all(), empty_label="Choose")
    day = forms.DateField(label="Day")
    minutes = forms.IntegerField(min_value=1, max_value=300, required=False)
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["service"].error_messages["invalid_choice"] = "Choose one from the list."

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day >= self.today:
            raise forms.ValidationError(TOO_LATE)
        return day


class LastFullForm(Form):
    """One day for each horse; the service they are noted as."""

    service = forms.ModelChoiceField(Service.objects.filter(kind=Service.Kind.FULL), label="Noted as", empty_label=None)

    def __init__(self, *args: Any, horses: Sequence[Animal], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.horses, self.today = horses, today
        self.fields["service"].error_messages["invalid_choice"] = "Choose one from the list."
        for animal in horses:
            self.fields[f"day_{animal.pk}"] = forms.DateField(label=f"{animal}, {animal.barn}", required=False)
        prepare_fields(self)
        self.helper.layout = Layout("service", Fieldset("Last full body on", *(f"day_{one.pk}" for one in horses)))

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for animal, day in self.days:
            if day >= self.today:
                self.add_error(f"day_{animal.pk}", TOO_LATE)
        return cleaned

    @property
    def days(self) -> list[tuple[Animal, date]]:
        said = ((animal, self.cleaned_data.get(f"day_{animal.pk}")) for animal in self.horses)
        return [(animal, day) for animal, day in said if day]
