from typing import Any, ClassVar

from crispy_forms.layout import Div, Layout
from django import forms

from backoffice.business.models import Business
from backoffice.ui.forms import Form
from clients.people.place import parse_place, say_place


class OfBusiness(Form):
    """Some settings of the business, as they stand."""

    names: ClassVar[tuple[str, ...]]

    def __init__(self, *args: Any, business: Business, **kwargs: Any) -> None:
        initial = {name: getattr(business, name) for name in self.names} | kwargs.pop("initial", {})
        super().__init__(*args, initial=initial, **kwargs)

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.names}


class WhereForm(OfBusiness):
    names = ("address", "phone", "email", "place_of_law")
    address = forms.CharField(max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    phone = forms.CharField(max_length=40, required=False)
    email = forms.EmailField(label="Mail", required=False)
    place_of_law = forms.CharField(
        label="State or country whose rules you work by",
        max_length=80,
        required=False,
        help_text="Such as Colorado, or England. What its law asks, you record under Paperwork.",
    )
    place = forms.CharField(
        label="Your base on the map",
        required=False,
        help_text="Latitude and longitude, as a map shows them: 51.94, -2.26. Days begin and end there.",
    )

    def __init__(self, *args: Any, business: Business, **kwargs: Any) -> None:
        lat, lon = business.base_lat, business.base_lon
        place = say_place(lat, lon) if lat is not None and lon is not None else ""
        super().__init__(*args, business=business, initial={"place": place}, **kwargs)

    def clean_place(self) -> tuple[float, float] | None:
        typed: str = self.cleaned_data["place"]
        try:
            return parse_place(typed) if typed else None
        except ValueError as wrong:
            raise forms.ValidationError(str(wrong)) from wrong

    def values(self) -> dict[str, Any]:
        lat, lon = self.cleaned_data["place"] or (None, None)
        return {**super().values(), "base_lat": lat, "base_lon": lon}


class HoursForm(OfBusiness):
    names = ("day_start", "day_end", "lunch_minutes", "setup_minutes")
    day_start = forms.TimeField(label="Out from")
    day_end = forms.TimeField(label="Home by")
    lunch_minutes = forms.IntegerField(label="Minutes for lunch", min_value=0, max_value=180)
    setup_minutes = forms.IntegerField(label="Minutes to set up at a stop", min_value=0, max_value=120)
    layout = Layout(
        Div("day_start", "day_end", css_class="pair"), Div("lunch_minutes", "setup_minutes", css_class="pair")
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        start, end = cleaned.get("day_start"), cleaned.get("day_end")
        if start and end and end <= start:
            self.add_error("day_end", "The day ends before it starts.")
        return cleaned


class PayForm(OfBusiness):
    names = ("how_to_pay", "payment_days", "tax_identity")
    how_to_pay = forms.CharField(
        label="How owners pay you", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    payment_days = forms.IntegerField(
        label="Days to pay an invoice", min_value=0, max_value=365, help_text="0 means on receipt."
    )
    percent = forms.DecimalField(
        label="Tax that you charge, in percent",
        min_value=0,
        max_value=100,
        decimal_places=3,
        required=False,
        help_text="Empty: none.",
    )
    is_included = forms.BooleanField(label="My prices hold it already", required=False)
    tax_identity = forms.CharField(label="Your tax number", max_length=60, required=False)


class RhythmForm(Form):
    takes_starters = forms.BooleanField(
        label="Take two guidelines to start with: upkeep, and around an event",
        required=False,
        initial=True,
        help_text="Common practice, no published source: look at them and make them yours. They promise nothing.",
    )
