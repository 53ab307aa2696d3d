from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.payments.banking_forms import DayForm
from billing.payments.models import OF_MONEY, Payment, SecurityDeposit

METHODS = [choice for choice in OF_MONEY if choice[0] != Payment.Method.CHECK]


class TakeSecurityForm(DayForm):
    what = forms.CharField(max_length=120, label="Held for", help_text="Such as the machine, by its name.")
    method = forms.ChoiceField(choices=METHODS, label="How it was paid")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        self.fields["amount"] = amount_field(digits, label="Amount", least=Decimal(1).scaleb(-digits))
        self.order_fields(["amount", "what", "method", "on"])
        self.helper.layout = Layout("amount", "what", "method", "on")


class SettleSecurityForm(DayForm):
    kept_for = forms.ChoiceField(
        choices=[("", "Nothing is kept"), *SecurityDeposit.KeptFor.choices], required=False, label="Kept for"
    )
    reason = forms.CharField(max_length=200, required=False, label="Why it is kept")
    method = forms.ChoiceField(choices=OF_MONEY, label="The rest goes back by")

    def __init__(self, *args: Any, deposit: SecurityDeposit, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.deposit = deposit
        self.fields["kept"] = amount_field(minor_digits(currency), label="Of it, kept", required=False)
        self.order_fields(["kept", "kept_for", "reason", "method", "on"])
        self.helper.layout = Layout("kept", "kept_for", "reason", "method", "on")

    def clean_kept(self) -> Decimal:
        kept: Decimal = self.cleaned_data["kept"] or Decimal(0)
        if kept > self.deposit.amount:
            raise forms.ValidationError("That is more than is held.")
        return kept

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("kept") and not cleaned.get("kept_for"):
            self.add_error("kept_for", "Say whether it is for damage or for more days.")
        if cleaned.get("kept") and not cleaned.get("reason"):
            self.add_error("reason", "What is kept needs a reason.")
        return cleaned
