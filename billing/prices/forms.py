from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms

from backoffice.ui.forms import ModelForm
from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.prices.models import CallOutRule, CostRates, HireRate, PersonTerms, Price, PriceList, TaxRate
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
    def breaks(self) -> Sequence[tuple[int, Decimal]]:
        return ()


class PriceForm(RateForm):
    amounts = ("amount",)

    tax_category = forms.ChoiceField(help_text="Which of the recorded tax rates counts.")

    class Meta:
        model = Price
        fields = ["price_list", "service", "amount", "tax_category", "since"]
        labels = {"amount": "Price of one session"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        service = self.fields["service"]
        assert isinstance(service, forms.ModelChoiceField)  # noqa: S101
        service.queryset = Service.objects.filter(is_offered=True)
        known = TaxRate.objects.order_by("category").values_list("category", flat=True).distinct()
        category = self.fields["tax_category"]
        assert isinstance(category, forms.ChoiceField)  # noqa: S101
        category.choices = [(name, name) for name in dict.fromkeys(["standard", *known])]
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
        self.fields[f"amount_{place}"] = amount_field(self.digits, label="Each costs", required=False)
        self.initial[f"count_{place}"] = count
        self.initial[f"amount_{place}"] = None if amount is None else round(amount, self.digits)

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
    def breaks(self) -> Sequence[tuple[int, Decimal]]:
        pairs = [
            (self.cleaned_data.get(f"count_{n}"), self.cleaned_data.get(f"amount_{n}")) for n in range(1, BREAKS + 1)
        ]
        return [(count, amount) for count, amount in pairs if count is not None and amount is not None]


class CallOutForm(RateForm):
    amounts = ("amount",)

    class Meta:
        model = CallOutRule
        fields = ["zone", "amount", "split", "since"]
        labels = {"amount": "Amount a stop", "split": "Who shares it"}
        help_texts = {"zone": "As written at the barn. Empty: every barn without a zone of its own."}


class HireRateForm(RateForm):
    amounts = ("day", "week", "training", "follow_up", "delivery", "deposit")

    class Meta:
        model = HireRate
        fields = ["day", "week", "training", "follow_up", "delivery", "deposit", "since"]
        labels = {
            "day": "A day",
            "week": "A week",
            "training": "Training visit",
            "follow_up": "Follow-up visit",
            "deposit": "Security deposit",
        }
        help_texts = {"deposit": "Given back at the end; it is not part of a price."}


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
        return " ".join(str(self.cleaned_data["category"]).lower().split())


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


class PersonTermsForm(RateForm):
    class Meta:
        model = PersonTerms
        fields = ["person", "price_list", "since"]
        help_texts = {"person": "Whoever pays: the owner, a charity, a trainer who pays for the owners."}
