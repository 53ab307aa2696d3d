from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.http import QueryDict

from backoffice.ui.forms import Form
from backoffice.ui.words import day
from billing.fields import amount_field
from billing.invoices.actions import Change
from billing.invoices.crediting import can_be_credited, unused_of
from billing.invoices.models import BY_HAND, PROPOSED_ANEW, Charge, InvoiceLine
from billing.invoices.proposals import Proposal
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.prices.forms import tax_category_field

LONGEST_AGO = 731  # days


class ChargeForm(Form):
    """One proposed charge: its amount, and a reason where somebody changes or waives it."""

    reason = forms.CharField(
        max_length=300, required=False, label="Why", help_text="To change or waive it. Not printed on the invoice."
    )

    def __init__(self, *args: Any, proposal: Proposal, currency: str, waiving: bool = False, **kwargs: Any) -> None:
        self.proposal, self.currency, self.waiving = proposal, currency, waiving
        start = None if proposal.amount is None else round_money(proposal.amount, currency)
        super().__init__(*args, prefix=proposal.key, initial={"amount": start}, **kwargs)
        self.fields["amount"] = amount_field(minor_digits(currency), label="Amount", required=False)
        self.order_fields(["amount", "reason"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        amount, reason = cleaned.get("amount"), cleaned.get("reason", "").strip()
        if self.waiving:
            if not reason:
                self.add_error("reason", "Say why you let it go.")
        elif amount is None:
            if self.proposal.amount is not None and "amount" not in self.errors:
                self.add_error("amount", "Amount is missing. To charge nothing, waive it with a reason.")
        elif amount != self.proposal.amount and not reason:
            self.add_error("reason", self._why(amount))
        return cleaned

    def _why(self, amount: Decimal) -> str:
        if self.proposal.amount is None:
            return "Say where this amount comes from."
        rule, typed = say_amount(self.proposal.amount, self.currency), say_amount(amount, self.currency)
        return f"The rule gives {rule}. Say why it is {typed}."

    @property
    def change(self) -> Change | None:
        amount = self.cleaned_data["amount"]
        if amount is None or amount == self.proposal.amount:
            return None
        return Change(amount, self.cleaned_data["reason"])

    @property
    def is_posted(self) -> bool:
        """Whether the page that came back had this charge on it."""
        return self.add_prefix("amount") in self.data


def charge_forms(
    proposals: Sequence[Proposal], currency: str, typed: QueryDict | None = None, waiving: str = ""
) -> list[ChargeForm]:
    """A form for each proposal; bound where the page that came back had it. `waiving` is the key of the one let go."""
    found = []
    for proposal in proposals:
        bound = ChargeForm(typed, proposal=proposal, currency=currency, waiving=proposal.key == waiving)
        found.append(bound if bound.is_posted else ChargeForm(proposal=proposal, currency=currency))
    return found


class ByHandForm(Form):
    """What no rule proposes, for one payer."""

    kind = forms.ChoiceField(
        choices=[(kind.value, kind.label) for kind in BY_HAND], label="What it is", widget=forms.RadioSelect
    )
    text = forms.CharField(
        max_length=200, label="As the invoice says it", help_text="Such as: Day at the county show, six horses."
    )
    on = forms.DateField(label="Day")
    reason = forms.CharField(
        max_length=300, required=False, label="Why this amount", help_text="Printed under the line, if you write it."
    )

    def __init__(self, *args: Any, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, digits = today, minor_digits(currency)
        self.fields["amount"] = amount_field(digits, label="Amount", least=Decimal(1).scaleb(-digits))
        tax = tax_category_field()
        if len(tax.choices) > 1:  # type: ignore[arg-type]
            self.fields["tax_category"] = tax
        self.initial.setdefault("on", today)
        order = ("kind", "text", "amount", "on", "tax_category", "reason")
        self.helper.layout = Layout(*(name for name in order if name in self.fields))

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError("This day is still to come.")
        if (self.today - on).days > LONGEST_AGO:
            raise forms.ValidationError("This is more than two years ago. Check the year.")
        return on


class TakeBackForm(Form):
    reason = forms.CharField(max_length=300, label="Why")


class CreditForm(Form):
    """What of each line is taken back, and which work waits to be charged anew."""

    everything = forms.BooleanField(label="Take back all that is left", required=False)
    reason = forms.CharField(max_length=300, label="Why", help_text="Printed on the credit note.")

    def __init__(
        self, *args: Any, lines: Sequence[InvoiceLine], left: Mapping[int, Decimal], currency: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.left = left
        self.lines = [line for line in lines if can_be_credited(line) and left[line.pk] > 0]
        for line in self.lines:
            rest = round_money(left[line.pk], currency)
            when = day(line.charge_share.charge.work_day)
            field = amount_field(minor_digits(currency), label=f"{when}, {line.text}", required=False)
            field.help_text = f"{say_amount(rest, currency)} is left. Empty: the line stands."
            unused = unused_of(line)
            if 0 < unused < line.amount:
                field.help_text += f" {say_amount(unused, currency)} of it is unused: taken back, it ends."
            self.fields[f"amount_{line.pk}"] = field
            if Charge.Kind(line.charge_share.charge.kind) in PROPOSED_ANEW:
                self.fields[f"anew_{line.pk}"] = forms.BooleanField(label="Charge this work anew", required=False)
        parts = [
            Div(*(name for name in (f"amount_{line.pk}", f"anew_{line.pk}") if name in self.fields))
            for line in self.lines
        ]
        self.helper.layout = Layout("reason", "everything", *parts)

    @property
    def amounts(self) -> dict[InvoiceLine, Decimal]:
        if self.cleaned_data["everything"]:
            return {line: self.left[line.pk] for line in self.lines}
        return {line: self.cleaned_data.get(f"amount_{line.pk}") or Decimal(0) for line in self.lines}

    @property
    def anew(self) -> list[InvoiceLine]:
        return [line for line in self.lines if self.cleaned_data.get(f"anew_{line.pk}")]


class WriteOffForm(Form):
    """Why what is open is given up, and whether its tax comes back."""

    reason = forms.CharField(max_length=300, label="Why")
    relieves_tax = forms.BooleanField(
        required=False,
        label="The tax in it comes back",
        help_text="Only where your tax office gives tax on bad debts back. Ask them.",
    )
    layout = Layout("reason", "relieves_tax")

    def __init__(self, *args: Any, has_tax: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_tax:
            del self.fields["relieves_tax"]
            self.helper.layout = Layout("reason")
