from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms
from django.db import models

from backoffice.ui.forms import ModelForm
from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.prices.models import (
    OF_VOUCHERS,
    Break,
    HireRate,
    PayerCap,
    PersonTerms,
    Price,
    PriceList,
    TaxExemption,
    TaxRate,
)
from billing.prices.rules import CostRates, FeeRule, MileageRate, MoneyRules
from clients.plans.models import Service

BREAKS = 3
EARLIEST, YEARS_AHEAD = date(2000, 1, 1), 5


class PriceListForm(ModelForm):
    class Meta:
        model = PriceList
        fields = ["name", "is_default"]
        labels = {"is_default": "Holds for everybody who has no list of their own"}


class RateForm(ModelForm):
    """The base of everything that holds from a day on. Money is typed in the decimals of the currency."""

    amounts: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.digits = today, minor_digits(currency)
        for name in self.amounts:
            old = self.fields[name]
            self.fields[name] = amount_field(
                self.digits, label=str(old.label), required=old.required, help_text=old.help_text
            )
            if isinstance(value := self.initial.get(name), Decimal):
                self.initial[name] = round(value, self.digits)
        self.fields["since"].label = "From"
        self.fields["since"].help_text = "The one before ends the day before. What has begun is never rewritten."
        if self.instance.pk is None:
            self.initial.setdefault("since", today)

    def clean_since(self) -> date:
        since: date = self.cleaned_data["since"]
        if since < EARLIEST:
            raise forms.ValidationError(f"This date is before {EARLIEST.year}. Check the year.")
        if since.year > self.today.year + YEARS_AHEAD:
            raise forms.ValidationError(f"This is more than {YEARS_AHEAD} years ahead. Check the year.")
        return since

    @property
    def rows(self) -> Sequence[models.Model]:
        """What belongs to the rate, such as its lower prices."""
        return ()

    def amount_of(self, name: str, label: str, value: Decimal | None, **options: Any) -> None:
        """A field of money beside those of the model."""
        self.fields[name] = amount_field(self.digits, label=label, required=False, **options)
        self.initial.setdefault(name, None if value is None else round(value, self.digits))


def tax_category_field() -> forms.ChoiceField:
    known = TaxRate.objects.order_by("category").values_list("category", flat=True).distinct()
    choices = [(name, name) for name in dict.fromkeys(["standard", *known])]
    field = forms.ChoiceField(choices=choices, label="Tax", help_text="Which of the recorded tax rates counts.")
    field.error_messages["invalid_choice"] = "Choose one from the list."
    return field


class PriceForm(RateForm):
    amounts = ("amount",)

    class Meta:
        model = Price
        fields = ["price_list", "service", "amount", "tax_category", "since"]
        labels = {"amount": "Price of one session"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        service = self.fields["service"]
        assert isinstance(service, forms.ModelChoiceField)  # noqa: S101
        service.queryset = Service.objects.filter(is_offered=True)
        self.fields["tax_category"] = tax_category_field()
        written = list(self.instance.breaks.all()) if self.instance.pk else []
        for place in range(1, BREAKS + 1):
            known_break = written[place - 1] if place <= len(written) else None
            self._add_break(place, known_break.count if known_break else None, known_break and known_break.amount)
        pairs = [Div(f"count_{place}", f"amount_{place}", css_class="pair") for place in range(1, BREAKS + 1)]
        first = ["price_list", "service", "amount", "tax_category", "since"]
        self.helper.layout = Layout(*first, Fieldset("Lower with more sessions", *pairs))

    def _add_break(self, place: int, count: int | None, amount: Decimal | None) -> None:
        words = forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"})
        self.fields[f"count_{place}"] = forms.IntegerField(
            label="From this many",
            min_value=2,
            max_value=1000,
            required=False,
            widget=words,
            error_messages={
                "invalid": "Write a whole number, in figures.",
                "min_value": "A lower price starts at 2 sessions or more.",
                "max_value": "Write 1000 or less.",
            },
        )
        self.initial[f"count_{place}"] = count
        self.amount_of(f"amount_{place}", "Each costs", amount)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for place in range(1, BREAKS + 1):
            count, amount = cleaned.get(f"count_{place}"), cleaned.get(f"amount_{place}")
            if count is not None and amount is None and f"amount_{place}" not in self.errors:
                self.add_error(f"amount_{place}", "Write what each costs then.")
            if amount is not None and count is None and f"count_{place}" not in self.errors:
                self.add_error(f"count_{place}", "Write from how many sessions on.")
        return cleaned

    @property
    def rows(self) -> Sequence[Break]:
        pairs = [
            (self.cleaned_data.get(f"count_{n}"), self.cleaned_data.get(f"amount_{n}")) for n in range(1, BREAKS + 1)
        ]
        return [Break(count=count, amount=each) for count, each in pairs if count is not None and each is not None]


class HireRateForm(RateForm):
    amounts = ("day", "week", "training", "follow_up", "delivery", "collection", "deposit")

    class Meta:
        model = HireRate
        fields = ["day", "week", "training", "follow_up", "delivery", "collection", "deposit", "since"]
        labels = {
            "day": "A day",
            "week": "A week",
            "training": "Training visit",
            "follow_up": "Follow-up visit",
            "deposit": "Security deposit",
        }
        help_texts = {
            "collection": "When you fetch the machine; the drive counts as a call-out. 0 and no call-out where it is "
            "brought back to you.",
            "deposit": "Given back at the end; it is not part of a price.",
        }


class TaxRateForm(RateForm):
    class Meta:
        model = TaxRate
        fields = ["category", "percent", "is_included", "text", "since"]
        labels = {"text": "Words on the invoice"}
        help_texts = {"category": "A name of your own, such as standard or reduced. Prices name it."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            self.initial.setdefault("category", "standard")

    def clean_category(self) -> str:
        category = " ".join(str(self.cleaned_data["category"]).lower().split())
        if category == OF_VOUCHERS:
            raise forms.ValidationError("A gift voucher holds no tax: what it pays for is taxed when it is used.")
        return category


class CostRatesForm(RateForm):
    amounts = ("hourly_target",)

    class Meta:
        model = CostRates
        fields = ["vehicle_per_mile", "admin_minutes_per_visit", "hourly_target", "since"]
        labels = {
            "vehicle_per_mile": "Vehicle, a mile",
            "admin_minutes_per_visit": "Office minutes a visit",
            "hourly_target": "What an hour should earn",
        }


class MileageRateForm(RateForm):
    class Meta:
        model = MileageRate
        fields = ["amount", "limit", "beyond", "year_starts", "source", "since"]
        labels = {"amount": "Amount for each mile or kilometer"}
        help_texts = {
            "amount": "In the unit that your business uses, as your tax office publishes it.",
            "limit": "Empty: the amount holds however far you drive.",
        }

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if data.get("beyond") and not data.get("limit"):
            self.add_error("limit", "A second amount begins after so many in a year: write how many.")
        return data


class PersonTermsForm(RateForm):
    class Meta:
        model = PersonTerms
        fields = ["person", "price_list", "since"]
        help_texts = {"person": "Whoever pays: the owner, a charity, a trainer who pays for the owners."}


class PayerCapForm(RateForm):
    amounts = ("amount",)

    class Meta:
        model = PayerCap
        fields = ["person", "per", "amount", "since"]
        help_texts = {"person": "Whoever pays in the owners’ place, such as a trainer."}


class TaxExemptionForm(RateForm):
    class Meta:
        model = TaxExemption
        fields = ["person", "certificate", "reason", "since", "until"]
        help_texts = {
            "person": "Whoever pays. Keep a copy of the certificate with their papers, and ask your tax office.",
            "until": "The last day on the certificate; tax is charged again after it. Empty: until you change it.",
        }


class MoneyRulesForm(RateForm):
    amounts = ("deposit_amount",)
    layout = Layout(
        "tax_rounding",
        Fieldset("Booking deposit", "deposit", "deposit_percent", "deposit_amount"),
        Fieldset("What a package leaves unused", "keeps_unused", "keeps_unused_source"),
        "since",
    )

    class Meta:
        model = MoneyRules
        fields = [
            "tax_rounding",
            "deposit",
            "deposit_percent",
            "deposit_amount",
            "keeps_unused",
            "keeps_unused_source",
            "since",
        ]
        labels = {
            "tax_rounding": "Where tax is rounded",
            "deposit": "What is asked",
            "deposit_percent": "Percent of the price",
            "deposit_amount": "Amount",
            "keeps_unused": "It is kept when the package ends",
            "keeps_unused_source": "Who says that this is allowed",
        }
        help_texts = {
            "tax_rounding": "Quotes and invoices alike. Ask your tax office which one you may use.",
            "deposit": "Part of the price: it is paid when a quote is accepted and taken off the next invoice.",
            "keeps_unused": "Off until you know that your local rules allow it. Off: it stays owed to the payer.",
            "keeps_unused_source": "Such as your lawyer, or the rule and the day you read it.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("deposit_percent", "deposit_amount"):
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name in ("deposit_percent", "deposit_amount"):
            if cleaned.get(name) is None and name not in self.errors:
                cleaned[name] = Decimal(0)
        chosen = {"percent": "deposit_percent", "amount": "deposit_amount"}.get(cleaned.get("deposit", ""))
        if chosen and not cleaned.get(chosen) and chosen not in self.errors:
            self.add_error(chosen, "Write how much is asked.")
        if cleaned.get("keeps_unused") and not cleaned.get("keeps_unused_source"):
            self.add_error("keeps_unused_source", "Write down who says that this is allowed.")
        return cleaned


class FeeRuleForm(RateForm):
    layout = Layout(
        Fieldset("Percent of the price of the visit", "late_cancel", "absent", "wet", "dangerous", "refused"),
        "with_call_out",
        "since",
    )

    class Meta:
        model = FeeRule
        fields = ["late_cancel", "absent", "wet", "dangerous", "refused", "with_call_out", "since"]
        help_texts = {
            "late_cancel": "With less notice than your settings ask.",
            "with_call_out": "Nobody else's part rises in either case: without the tick you bear it.",
        }
