from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.ui.forms import Form, ModelForm
from backoffice.ui.spoken import Spoken
from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.reminders.models import ReminderStage


class StageForm(Spoken, ModelForm):
    spoken = ("words",)

    class Meta:
        model = ReminderStage
        fields = ["days", "words", "late_fee", "goes_by_itself"]
        labels = {"words": "What you write", "goes_by_itself": "It is mailed by itself"}
        widgets = {"words": forms.Textarea(attrs={"rows": 5})}

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["late_fee"] = amount_field(
            minor_digits(currency),
            label="Late fee",
            required=False,
            help_text="Only where your law and your agreement allow one. It waits for their next invoice.",
        )
        fee = self.instance.late_fee
        self.initial["late_fee"] = round(fee, minor_digits(currency)) if fee else None
        self.helper.layout = Layout("days", "words", "late_fee", "goes_by_itself")

    def clean_late_fee(self) -> Decimal:
        return self.cleaned_data["late_fee"] or Decimal(0)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("late_fee") and cleaned.get("goes_by_itself"):
            self.add_error("goes_by_itself", "A letter with a fee is sent by a person.")
        return cleaned


class AskForm(Form):
    text = forms.CharField(max_length=1000, widget=forms.Textarea(attrs={"rows": 3}), label="Your question")


class AnswerMoneyForm(Spoken, Form):
    spoken = ("answer",)

    answer = forms.CharField(
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 6}),
        label="Your answer",
        help_text="It is mailed and stands on their private page. Reminders to them go on.",
    )
