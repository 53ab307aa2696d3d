from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from backoffice.ui.forms import Form
from billing.fields import amount_field
from billing.invoices.actions import Change
from billing.invoices.proposals import Proposal
from billing.money.rounding import minor_digits, round_money
from billing.money.words import plain


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
        rule, typed = plain(self.proposal.amount, self.currency), plain(amount, self.currency)
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
