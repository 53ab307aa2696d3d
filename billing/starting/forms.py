from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Layout
from django import forms

from backoffice.access.models import User
from backoffice.ui.forms import Form
from billing.fields import MOST, amount_field
from billing.money.rounding import minor_digits
from billing.starting.actions import MOST_DRIVEN, SERIES
from clients.people.models import Person
from clients.plans.models import Service

LONGEST = timedelta(days=3660)


class BeginForm(Form):
    """The first day, the money that was there on its morning, and the numbers that follow the old ones."""

    day = forms.DateField(label="First day", help_text="Everything before it stays in your books of before.")

    def __init__(self, *args: Any, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, digits = today, minor_digits(currency)
        self.fields["bank"] = amount_field(
            digits, label="In the bank", least=-MOST, required=False, help_text="Below zero if it was overdrawn."
        )
        self.fields["cash"] = amount_field(digits, label="In cash", required=False)
        for series, label in SERIES.items():
            self.fields[series] = forms.IntegerField(
                label=f"{label} go on at", min_value=1, max_value=999_999, required=False
            )
        self.helper.layout = Layout(
            "day",
            Fieldset("Money on that morning", "bank", "cash"),
            Fieldset("Numbers, where yours are to go on", *SERIES),
        )

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError("This day is still to come.")
        return day

    @property
    def first_numbers(self) -> dict[str, int]:
        return {series: self.cleaned_data[series] for series in SERIES if self.cleaned_data[series]}


class BringForm(Form):
    """Something of somebody's that is brought along."""

    person = forms.ModelChoiceField(Person.objects.all(), label="Whose", empty_label="Choose")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.digits = minor_digits(currency)
        self.fields["person"].error_messages["invalid_choice"] = "Choose one from the list."

    def money(self, label: str, **options: Any) -> forms.DecimalField:
        return amount_field(self.digits, label=label, least=Decimal(1).scaleb(-self.digits), **options)


class MilesForm(Form):
    """How far somebody had driven in the tax year already."""

    driver = forms.ModelChoiceField(User.objects.filter(is_active=True), label="Who drove", empty_label="Choose")

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["driver"].error_messages["invalid_choice"] = "Choose one from the list."
        self.fields["distance"] = forms.DecimalField(
            min_value=0,
            max_value=MOST_DRIVEN,
            decimal_places=1,
            label="Kilometers" if unit == "km" else "Miles",
            help_text="For the business, from the start of the tax year to the day before your first here.",
        )
        self.helper.layout = Layout("driver", "distance")


class InvoiceForm(BringForm):
    name = forms.CharField(max_length=40, label="Its old number")
    issued_on = forms.DateField(label="Its date")
    due_on = forms.DateField(label="Pay by")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["open_amount"] = self.money("Still open")
        self.helper.layout = Layout("person", "name", "issued_on", "due_on", "open_amount")


class CreditForm(BringForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = self.money("Credit")
        self.helper.layout = Layout("person", "amount")


class SecurityForm(BringForm):
    what = forms.CharField(max_length=120, label="Held for", help_text="Such as the machine, by its name.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = self.money("Amount")
        self.helper.layout = Layout("person", "amount", "what")


class PackageForm(BringForm):
    name = forms.CharField(max_length=60, label="What it is called", initial="Package of before")
    service = forms.ModelChoiceField(Service.objects.all(), empty_label="Choose")
    left = forms.IntegerField(min_value=1, max_value=1000, label="Sessions left")
    ends_on = forms.DateField(label="Last day", required=False, help_text="Empty: it does not end.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"] = amount_field(
            self.digits, label="Their part of the price", help_text="Before tax; what you still owe in work."
        )
        self.helper.layout = Layout("person", "name", "service", "left", "value", "ends_on")
