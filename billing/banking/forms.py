from collections.abc import Collection
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.business.models import Business
from backoffice.ui.forms import Form
from billing.banking.columns import Columns, Sheet, guessed
from billing.banking.plain import DayOrder, mark_of, order_of
from clients.people.models import Person

LARGEST = 20 * 1024 * 1024
ROLES = {
    "day": "Day",
    "amount": "Amount, out below zero",
    "paid_in": "Or: paid in",
    "paid_out": "Or: paid out",
    "name": "Who",
    "text": "What it says",
    "reference": "Reference",
    "bank_id": "The bank’s own number",
}
SAMPLE = 4


def usual_order(business: Business) -> DayOrder:
    return DayOrder.DAY_FIRST if business.words == Business.Words.UK else DayOrder.MONTH_FIRST


class UploadForm(Form):
    file = forms.FileField(
        label="File from your bank",
        help_text="camt.053, OFX, QIF, or a table (CSV). It is read here and goes nowhere else.",
        widget=forms.FileInput(attrs={"accept": ".xml,.ofx,.qfx,.qbo,.qif,.csv,.txt"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError("This file is larger than 20 MB. Ask your bank for fewer days.")
        return file


class DecideForm(Form):
    """What a person says to a file: its columns, and that another account or format is meant."""

    def __init__(
        self, *args: Any, sheet: Sheet | None, business: Business, asked: Collection[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        if sheet is not None:
            self._add_columns(sheet, usual_order(business))
        for name, label in ASKS.items():
            if name in asked:
                self.fields[name] = forms.BooleanField(required=False, label=label)
        self.helper.layout = Layout(*self.fields)

    def _add_columns(self, sheet: Sheet, usual: DayOrder) -> None:
        first = guessed(sheet)
        names = [("", "None of them"), *((name, name) for name in sheet.heading)]
        for role, label in ROLES.items():
            needed = role == "day"
            self.fields[role] = forms.ChoiceField(
                choices=names[1:] if needed else names, label=label, required=needed, initial=first.get(role, "")
            )
        days = [row.get(first.get("day", ""), "") for _, row in sheet.rows]
        self.fields["day_order"] = forms.ChoiceField(
            label="A day is written as",
            choices=[("mdy", "month, day, year"), ("dmy", "day, month, year"), ("ymd", "year, month, day")],
            initial=order_of(days, usual).value,
        )
        amounts = [row.get(first.get("amount") or first.get("paid_in", ""), "") for _, row in sheet.rows]
        self.fields["mark"] = forms.ChoiceField(
            label="Before the decimals stands",
            choices=[(".", "a point: 1,234.56"), (",", "a comma: 1.234,56")],
            initial=mark_of(amounts),
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.sheet is not None and not any(cleaned.get(role) for role in ("amount", "paid_in", "paid_out")):
            self.add_error("amount", "Choose the column of the amount, or those of paid in and paid out.")
        elif self.sheet is not None and cleaned.get("amount") and cleaned.get("paid_in"):
            self.add_error("amount", "Choose the amount, or paid in and paid out, not both.")
        return cleaned

    @property
    def columns(self) -> dict[str, str]:
        return {name: self.cleaned_data[name] for name in Columns.__dataclass_fields__ if name in self.cleaned_data}

    @property
    def sample(self) -> list[list[str]]:
        assert self.sheet is not None  # noqa: S101 - asked only for a table
        return [[row.get(name, "") for name in self.sheet.heading] for _, row in self.sheet.rows[:SAMPLE]]


ASKS = {
    "another_account": "This account is mine too",
    "another_format": "I looked at these days: take the lines in beside those",
}


class PayerOfLineForm(Form):
    """Whose money it is, where no proposal fits."""

    payer = forms.ModelChoiceField(queryset=Person.objects.none(), label="From", empty_label="Choose")

    def __init__(self, *args: Any, payers: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["payer"].queryset = payers  # type: ignore[attr-defined]


class AsideForm(Form):
    reason = forms.CharField(max_length=200, label="What it is", help_text="Such as: interest, my own money, a loan.")
