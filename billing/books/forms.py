from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.documents.fields import PhotoField
from backoffice.ui.forms import Form, ModelForm
from billing.books.models import Expense
from billing.books.queries import BY_INVOICE, BY_PAYMENT, EARNED, RECEIVED
from billing.fields import amount_field
from billing.money.rounding import minor_digits


class ExpenseForm(ModelForm):
    photo = PhotoField(required=False, label="Photo of the bill")

    class Meta:
        model = Expense
        fields = ["day", "what", "category", "amount", "tax", "paid_from"]
        labels = {"day": "Day", "what": "What for", "paid_from": "Paid from"}

    def __init__(self, *args: Any, today: date, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        self.today = today
        self.fields["amount"] = amount_field(digits, label="Amount", least=Decimal(1).scaleb(-digits))
        self.fields["tax"] = amount_field(
            digits, label="Of it, tax", required=False, help_text="Only where your tax office gives it back."
        )
        self.initial.setdefault("day", today)
        self.helper.layout = Layout("what", "amount", "tax", "day", "category", "paid_from", "photo")

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError("This day is still to come.")
        return day

    def clean_tax(self) -> Decimal:
        tax: Decimal = self.cleaned_data["tax"] or Decimal(0)
        if "amount" in self.cleaned_data and tax > self.cleaned_data["amount"]:
            raise forms.ValidationError("The tax is more than the amount it is in.")
        return tax


class PeriodForm(Form):
    """From and to, and by which date something counts."""

    since = forms.DateField(label="From")
    until = forms.DateField(label="To")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("since") and cleaned.get("until") and cleaned["until"] < cleaned["since"]:
            self.add_error("until", "The period ends before it begins.")
        return cleaned


class TaxPeriodForm(PeriodForm):
    basis = forms.ChoiceField(
        label="By the date of",
        choices=[(BY_INVOICE, "the invoice"), (BY_PAYMENT, "the payment")],
        help_text="Which one is yours, your tax office says.",
    )
    layout = Layout("since", "until", "basis")


class YearForm(PeriodForm):
    basis = forms.ChoiceField(label="Income", choices=[(RECEIVED, "as received"), (EARNED, "as earned")])
    layout = Layout("since", "until", "basis")
