from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Layout
from django import forms
from django.db.models import F

from backoffice.british import spoken
from backoffice.ui.forms import Form
from billing.fields import amount_field
from billing.invoices.models import Invoice
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.payments.models import OF_MONEY, Payment
from billing.payments.queries import oldest_first
from billing.vouchers.models import Voucher
from billing.vouchers.queries import voucher_of_code


class PaymentForm(Form):
    """What came in, and by choice what of it goes to which invoice; left empty, the one due first is settled first."""

    method = forms.ChoiceField(choices=[*OF_MONEY, ("voucher", "Gift voucher")], label="How it was paid")
    received_on = forms.DateField(label="Received on")
    code = forms.CharField(max_length=20, required=False, label="Code of the gift voucher")
    reference = forms.CharField(
        max_length=120, required=False, help_text="A check number, or what the bank's line says."
    )

    def __init__(self, *args: Any, invoices: Sequence[Invoice], currency: str, today: date, **kwargs: Any) -> None:
        self.invoices, self.currency, self.today = invoices, currency, today
        self.voucher: Voucher | None = None
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        least = Decimal(1).scaleb(-digits)
        self.fields["amount"] = amount_field(digits, label="Amount", least=least)
        if not Voucher.objects.filter(net__gt=F("earned")).exists():
            del self.fields["code"]
            of_money = [(value, spoken(str(label))) for value, label in OF_MONEY]
            self.fields["method"].choices = of_money  # type: ignore[attr-defined]
        self.fields["tip"] = amount_field(digits, label="Of it, a tip", required=False)
        shown = [n for n in ("amount", "method", "code", "received_on", "reference", "tip") if n in self.fields]
        self.order_fields(shown)
        self.helper.layout = Layout(*shown)
        for invoice in invoices:
            self.fields[self._name(invoice)] = amount_field(
                digits,
                label=f"For invoice {invoice.name}",
                required=False,
                help_text=f"{say_amount(invoice.open, currency)} is open.",
            )
        self.initial.setdefault("received_on", today)

    @staticmethod
    def _name(invoice: Invoice) -> str:
        return f"invoice-{invoice.pk}"

    def clean_received_on(self) -> date:
        received_on: date = self.cleaned_data["received_on"]
        if received_on > self.today:
            raise forms.ValidationError("This day is still to come.")
        if received_on.year < 2000:
            raise forms.ValidationError("This date is before 2000. Check the year.")
        return received_on

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for invoice in self.invoices:
            part = cleaned.get(self._name(invoice))
            if part is not None and part > invoice.open:
                left = say_amount(invoice.open, self.currency)
                self.add_error(self._name(invoice), f"Only {left} is open on invoice {invoice.name}.")
        self._check_voucher(cleaned)
        amount, chosen = cleaned.get("amount"), sum(self._chosen().values(), Decimal(0))
        tip = cleaned.get("tip") or Decimal(0)
        if amount is not None and tip > amount:
            self.add_error("tip", "The tip is more than came in.")
        elif amount is not None and chosen > amount - tip:
            told = say_amount(chosen + tip, self.currency)
            self.add_error(
                "amount", f"The invoices below{' and the tip' if tip else ''} take {told}, more than came in."
            )
        return cleaned

    def _check_voucher(self, cleaned: dict[str, Any]) -> None:
        """Its code, and what is left on it, where a gift voucher pays."""
        if cleaned.get("method") != Payment.Method.VOUCHER:
            return
        self.voucher = voucher_of_code(cleaned.get("code", ""))
        amount = cleaned.get("amount")
        if not cleaned.get("code"):
            self.add_error("code", "Code of the gift voucher is missing.")
        elif self.voucher is None:
            self.add_error("code", "No gift voucher has this code. Read it again.")
        elif amount is not None and amount > self.voucher.left:
            self.add_error("amount", f"{self.voucher} has {say_amount(self.voucher.left, self.currency)} left.")

    def _chosen(self) -> dict[Invoice, Decimal]:
        parts = {invoice: self.cleaned_data.get(self._name(invoice)) for invoice in self.invoices}
        return {invoice: round_money(part, self.currency) for invoice, part in parts.items() if part}

    @property
    def allocations(self) -> dict[Invoice, Decimal]:
        return self._chosen() or oldest_first(self.cleaned_data["amount"] - self.tip, self.invoices)

    @property
    def tip(self) -> Decimal:
        return self.cleaned_data["tip"] or Decimal(0)


class StatementForm(Form):
    """From which day a statement goes; it ends today."""

    since = forms.DateField(label="From")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_since(self) -> date:
        since: date = self.cleaned_data["since"]
        if since > self.today:
            raise forms.ValidationError("This day is still to come.")
        return since


class RefundForm(Form):
    """Credit that goes back to who paid it."""

    method = forms.ChoiceField(choices=OF_MONEY, label="How it was given back")
    reference = forms.CharField(max_length=120, required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        self.fields["amount"] = amount_field(digits, label="Amount", least=Decimal(1).scaleb(-digits))
        self.order_fields(["amount", "method", "reference"])
        self.helper.layout = Layout("amount", "method", "reference")
