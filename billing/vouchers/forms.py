from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.ui.forms import Form
from billing.fields import amount_field
from billing.money.rounding import minor_digits

LONGEST = timedelta(days=3660)


class SellVoucherForm(Form):
    """A gift for somebody, who may be on file or not."""

    for_whom = forms.CharField(max_length=80, required=False, label="For whom", help_text="Printed on the voucher.")
    ends_on = forms.DateField(
        required=False,
        label="Last day",
        help_text="Empty: it does not end. Some places forbid that a voucher ends: ask yours.",
    )

    def __init__(self, *args: Any, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, digits = today, minor_digits(currency)
        self.fields["amount"] = amount_field(digits, label="Amount", least=Decimal(1).scaleb(-digits))
        self.helper.layout = Layout("amount", "for_whom", "ends_on")

    def clean_ends_on(self) -> date | None:
        ends_on: date | None = self.cleaned_data["ends_on"]
        if ends_on is not None and ends_on < self.today:
            raise forms.ValidationError("This day is over already.")
        if ends_on is not None and ends_on > self.today + LONGEST:
            raise forms.ValidationError("This is more than ten years ahead. Check the year.")
        return ends_on
