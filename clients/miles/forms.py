from decimal import Decimal
from typing import Any

from django import forms

from backoffice.access.models import User
from backoffice.ui.forms import Form
from backoffice.ui.words import METERS_IN
from clients.miles.models import Trip

FARTHEST = 1250


class TripFields(Form):
    """What every trip says; the distance is typed in the business's own unit."""

    places = forms.CharField(max_length=600, label="From where to where", help_text="Such as: Home, feed store, home.")
    purpose = forms.CharField(max_length=200, help_text="Why it was driven for the business.")
    distance = forms.DecimalField(min_value=0, max_value=FARTHEST, decimal_places=1, max_digits=6)
    measured = forms.ChoiceField(label="Measured by", choices=Trip.Measure.choices, initial=Trip.Measure.ODOMETER)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        self.fields["distance"].label = "Miles" if unit == "mi" else "Kilometers"

    @property
    def metres(self) -> int:
        distance: Decimal = self.cleaned_data["distance"]
        return round(distance * METERS_IN[self.unit])


class TripForm(TripFields):
    day = forms.DateField()
    driver = forms.ModelChoiceField(User.objects.none())
    field_order = ["day", "driver", "places", "purpose", "distance", "measured"]

    def __init__(self, *args: Any, drivers: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["driver"].queryset = drivers  # type: ignore[attr-defined]

    def trip(self) -> Trip:
        data = self.cleaned_data
        return Trip(
            day=data["day"],
            driver=data["driver"],
            places=data["places"],
            purpose=data["purpose"],
            metres=self.metres,
            measured=data["measured"],
        )


class CorrectForm(TripFields):
    why = forms.CharField(label="Why it is corrected", max_length=200, help_text="The row before stays readable.")


def initial_of(trip: Trip, unit: str) -> dict[str, Any]:
    distance = (Decimal(trip.metres) / METERS_IN[unit]).quantize(Decimal("0.1"))
    return {"places": trip.places, "purpose": trip.purpose, "distance": distance, "measured": trip.measured}
