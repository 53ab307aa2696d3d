from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.ui.forms import Form
from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.money.words import say_amount
from billing.payments.models import Payment


class PastDay(forms.DateField):
    """A day that is not ahead of `today`, which the form sets."""

    today: date

    def clean(self, value: Any) -> Any:
        day = super().clean(value)
        if day is not None and day > self.today:
            raise forms.ValidationError("This day is still to come.")
        return day


class DayForm(Form):
    """A form about something that happened on a day; `on` starts as today."""

    on = PastDay(label="On")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        on = self.fields["on"]
        assert isinstance(on, PastDay)  # noqa: S101 - told to the type checker
        on.today = today
        self.initial.setdefault("on", today)


class SlipForm(DayForm):
    """Which checks, and how much of the cash, go to the bank together."""

    checks = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Checks")

    def __init__(self, *args: Any, held: Sequence[Payment], cash: Decimal, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.held, self.cash_held = held, cash
        self.fields["checks"] = forms.MultipleChoiceField(
            choices=[(str(check.pk), self._say(check, currency)) for check in held],
            initial=[str(check.pk) for check in held],
            required=False,
            widget=forms.CheckboxSelectMultiple,
            label="Checks",
        )
        if not held:
            del self.fields["checks"]
        self.fields["cash"] = amount_field(
            minor_digits(currency),
            label="Cash",
            required=False,
            help_text=f"{say_amount(cash, currency)} is in hand by the books.",
        )
        names = [name for name in ("checks", "cash", "on") if name in self.fields]
        self.order_fields(names)
        self.helper.layout = Layout(*names)

    @staticmethod
    def _say(check: Payment, currency: str) -> str:
        number = f", {check.reference}" if check.reference else ""
        return f"{check.payer}, {say_amount(check.amount, currency)} of {check.received_on:%-d %b}{number}"

    def clean_cash(self) -> Decimal:
        cash: Decimal = self.cleaned_data["cash"] or Decimal(0)
        if cash > self.cash_held:
            raise forms.ValidationError("That is more than is in hand by the books.")
        return cash

    @property
    def chosen(self) -> list[Payment]:
        wanted = set(self.cleaned_data.get("checks", ()))
        return [check for check in self.held if str(check.pk) in wanted]


class ReturnedForm(DayForm):
    reason = forms.CharField(max_length=200, required=False, label="What the bank says")
    layout = Layout("on", "reason")


class PayoutForm(DayForm):
    """What a card service paid, and what it kept."""

    reference = forms.CharField(max_length=120, required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        self.fields["amount"] = amount_field(digits, label="Paid into the bank")
        self.fields["fee"] = amount_field(digits, label="Fee that was kept", required=False)
        self.order_fields(["amount", "fee", "on", "reference"])
        self.helper.layout = Layout("amount", "fee", "on", "reference")

    def clean_fee(self) -> Decimal:
        return self.cleaned_data["fee"] or Decimal(0)
