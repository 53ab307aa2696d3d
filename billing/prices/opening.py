"""The prices of a new business on one page: a full body, a spot, a call-out."""

from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from backoffice.ui.forms import Form
from billing.fields import amount_field
from billing.money.rounding import minor_digits
from billing.prices.actions import record_rate, save_price_list
from billing.prices.models import CallOutRule, Price, PriceList
from clients.plans.actions import save_service
from clients.plans.models import Service


class FirstPrice(NamedTuple):
    kind: Service.Kind
    minutes: int
    amount: Decimal


class FirstPricesForm(Form):
    """What is needed for a first quote. All of it is changed later where it lives: services, prices, call-outs."""

    full_minutes = forms.IntegerField(label="Minutes", min_value=5, max_value=300, initial=60)
    spot_minutes = forms.IntegerField(label="Minutes", min_value=5, max_value=300, initial=20)
    uses_machine = forms.BooleanField(label="Both use a machine", required=False, initial=True)
    split = forms.ChoiceField(
        label="With several horses at a stop",
        choices=CallOutRule.Split.choices,
        initial=CallOutRule.Split.HORSE,
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        digits = minor_digits(currency)
        self.fields["full_price"] = amount_field(digits, label="Price of one")
        self.fields["spot_price"] = amount_field(digits, label="Price of one", required=False)
        self.fields["call_out"] = amount_field(
            digits, label="Call-out for a stop", required=False, help_text="Left empty, coming costs nothing."
        )
        self.helper.layout = Layout(
            Fieldset("Full body", Div("full_minutes", "full_price", css_class="pair")),
            Fieldset("Spot, on the days between", Div("spot_minutes", "spot_price", css_class="pair")),
            "uses_machine",
            Fieldset("Coming to the barn", "call_out", "split"),
        )

    @property
    def prices(self) -> list[FirstPrice]:
        cleaned = self.cleaned_data
        pairs = [(Service.Kind.FULL, "full"), (Service.Kind.SPOT, "spot")]
        return [
            FirstPrice(kind, cleaned[f"{name}_minutes"], cleaned[f"{name}_price"])
            for kind, name in pairs
            if cleaned.get(f"{name}_price") is not None
        ]


@audit.action
def open_price_list(
    *, prices: list[FirstPrice], uses_machine: bool, call_out: Decimal | None, split: str, at: datetime, by: User
) -> PriceList:
    """The services, one list that holds for everybody with their prices from today, and what a stop costs."""
    if Price.objects.exists():
        raise Refused("There are prices already. Change them where they stand.")
    today = local_date(at)
    default = PriceList.objects.filter(is_default=True).first() or PriceList(name="Prices", is_default=True)
    price_list = save_price_list(price_list=default, at=at, by=by)
    for kind, minutes, amount in prices:
        service = Service.objects.filter(kind=kind).first()
        if service is None:
            service = Service(name=kind.label, kind=kind, minutes=minutes, uses_machine=uses_machine)
            save_service(service=service, at=at, by=by)
        price = Price(price_list=price_list, service=service, amount=amount, since=today)
        record_rate(rate=price, at=at, by=by)
    if call_out and not CallOutRule.objects.filter(zone="").exists():
        record_rate(rate=CallOutRule(amount=call_out, split=split, since=today), at=at, by=by)
    return price_list
