from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from backoffice.access.models import User
from backoffice.ui.forms import Form, ModelForm
from clients.people.forms import choose_from
from clients.people.models import WEEKDAYS
from clients.people.place import parse_place
from clients.plans.holiday_calendars import calendar_choices
from clients.workdays.models import Absence, WorkingHours
from clients.workdays.queries import Hours


class AbsenceForm(ModelForm):
    class Meta:
        model = Absence
        fields = ["practitioner", "since", "until", "why", "note"]
        labels = {"practitioner": "Who", "why": "Why"}
        help_texts = {"note": "Only you and your team read it."}

    def __init__(self, *args: Any, people: Sequence[User], may_close: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(User.objects.filter(pk__in=[each.pk for each in people]), self.fields["practitioner"], "Everybody")
        if not may_close:
            self.fields["practitioner"].required = True
            self.fields["practitioner"].empty_label = None  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if data.get("since") and data.get("until") and data["until"] < data["since"]:
            self.add_error("until", "The last day is before the first.")
        return data


class CalendarForm(Form):
    """Whose public holidays."""

    calendar = forms.ChoiceField(label="Public holidays of")

    def __init__(self, *args: Any, first: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["calendar"].choices = calendar_choices(first)  # type: ignore[attr-defined]


class OwnBaseForm(Form):
    place = forms.CharField(
        max_length=60,
        required=False,
        help_text="Latitude and longitude, such as 39.35, -104.6. Empty: the base of the business.",
    )

    def clean_place(self) -> tuple[float, float] | None:
        typed = self.cleaned_data["place"]
        try:
            return parse_place(typed) if typed else None
        except ValueError as wrong:
            raise ValidationError(str(wrong)) from wrong


class HoursForm(Form):
    """From and to on each weekday; a day without times is a day off."""

    def __init__(self, *args: Any, rows: Sequence[WorkingHours], **kwargs: Any) -> None:
        # before the base prepares its fields, so that these are prepared with them
        self.base_fields: dict[str, forms.Field] = {}  # type: ignore[misc]
        for name in WEEKDAYS.values():
            self.base_fields[f"{name}_opens"] = forms.TimeField(label=f"{name} from", required=False)
            self.base_fields[f"{name}_closes"] = forms.TimeField(label=f"{name} to", required=False)
        names = list(WEEKDAYS.values())
        initial = {f"{names[row.weekday]}_opens": row.opens for row in rows}
        initial |= {f"{names[row.weekday]}_closes": row.closes for row in rows}
        super().__init__(*args, initial=initial, **kwargs)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        for name in WEEKDAYS.values():
            opens, closes = data.get(f"{name}_opens"), data.get(f"{name}_closes")
            if (opens is None) != (closes is None) and not self.errors.keys() & {f"{name}_opens", f"{name}_closes"}:
                self.add_error(f"{name}_closes" if closes is None else f"{name}_opens", "Write both times, or neither.")
            elif opens and closes and closes <= opens:
                self.add_error(f"{name}_closes", "The day ends after it begins.")
        return data

    def hours(self) -> dict[int, Hours]:
        data = self.cleaned_data
        return {
            number: Hours(data[f"{name}_opens"], data[f"{name}_closes"])
            for number, name in enumerate(WEEKDAYS.values())
            if data[f"{name}_opens"]
        }
