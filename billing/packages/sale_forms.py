"""Selling a package and starting a monthly plan: a few choices, the rest comes from the terms on sale."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from backoffice.ui.forms import Form
from backoffice.ui.words import money
from billing.packages.models import MonthlyPlan, Package
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from clients.animals.models import Animal


def _offers(offers: Sequence[Package | MonthlyPlan], business: Any) -> list[tuple[str, str]]:
    return [
        (
            str(offer.pk),
            f"{offer}: {', '.join(str(part) for part in offer.parts.all())}, {money(offer.price, business)}",
        )
        for offer in offers
    ]


class SellForm(Form):
    """Which package, from today on; all horses of the payer, or the ones that are ticked."""

    package = forms.ChoiceField(widget=forms.RadioSelect)
    animals = forms.ModelMultipleChoiceField(
        Animal.objects.none(),
        label="For which horses",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: each horse that this person alone pays for.",
    )

    def __init__(self, *args: Any, on: date, animals: Sequence[Animal], business: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = {str(offer.pk): offer for offer in packages_on_sale(on)}
        field, horses = self.fields["package"], self.fields["animals"]
        field.choices = _offers(list(self.offers.values()), business)  # type: ignore[attr-defined]
        field.error_messages = {"required": "Choose a package.", "invalid_choice": "Choose one from the list."}
        horses.queryset = Animal.objects.filter(pk__in=[animal.pk for animal in animals])  # type: ignore[attr-defined]
        horses.error_messages["invalid_choice"] = "Choose from the list."
        if len(self.offers) == 1:
            self.initial.setdefault("package", next(iter(self.offers)))

    def clean_package(self) -> Package:
        return self.offers[self.cleaned_data["package"]]


class StartPlanForm(Form):
    """Which monthly plan, for which horse, from which day; with a last day it is a fixed term."""

    plan = forms.ChoiceField(widget=forms.RadioSelect)
    animal = forms.ModelChoiceField(Animal.objects.none(), label="Horse")
    start = forms.DateField(label="First day")
    ends_on = forms.DateField(label="Last day", required=False, help_text="Empty: it runs until you stop it.")

    def __init__(self, *args: Any, on: date, animals: Sequence[Animal], business: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = {str(offer.pk): offer for offer in monthly_plans_on_sale(on)}
        field, horse = self.fields["plan"], self.fields["animal"]
        field.choices = _offers(list(self.offers.values()), business)  # type: ignore[attr-defined]
        field.error_messages = {"required": "Choose a plan.", "invalid_choice": "Choose one from the list."}
        horse.queryset = Animal.objects.filter(pk__in=[animal.pk for animal in animals])  # type: ignore[attr-defined]
        self.initial.setdefault("start", on)
        self.on = on
        if len(self.offers) == 1:
            self.initial.setdefault("plan", next(iter(self.offers)))

    def clean_plan(self) -> MonthlyPlan:
        return self.offers[self.cleaned_data["plan"]]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        start, ends_on = cleaned.get("start"), cleaned.get("ends_on")
        if start and abs((start - self.on).days) > 366:
            self.add_error("start", "This is more than a year away. Check the year.")
        if start and ends_on and ends_on < start:
            self.add_error("ends_on", "The last day is before the first.")
        return cleaned
