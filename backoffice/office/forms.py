from dataclasses import asdict
from datetime import date
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from babel.numbers import get_currency_name
from crispy_forms.layout import Fieldset, Layout
from django import forms
from stdnum import bic, iban

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.business.models import Business
from backoffice.office.usual import usual_in
from backoffice.team.account_forms import HOW_TO_CHOOSE, check_passwords, password_field
from backoffice.ui.countries import country_choices
from backoffice.ui.forms import Form, ModelForm
from backoffice.ui.spoken import Spoken
from billing.money.rounding import CURRENCIES


@cache
def currency_choices() -> list[tuple[str, str]]:
    return [(code, f"{code}: {get_currency_name(code, locale='en_US')}") for code in sorted(CURRENCIES)]


@cache
def zone_choices() -> list[tuple[str, str]]:
    return [(name, name.replace("_", " ")) for name in sorted(available_timezones()) if "/" in name or name == "UTC"]


def currency_field() -> forms.ChoiceField:
    return forms.ChoiceField(choices=currency_choices, initial="USD")


def zone_field() -> forms.ChoiceField:
    return forms.ChoiceField(choices=zone_choices, initial="America/Denver", label="Time zone")


class BusinessForm(Spoken, ModelForm):
    spoken = ("preparation_words", "after_care_words")
    currency = currency_field()
    time_zone = zone_field()
    country = forms.ChoiceField(choices=country_choices, help_text="Yours and, unless told, that of your owners.")
    time_stamp_address = forms.URLField(
        label="Address of a time-stamp service",
        required=False,
        assume_scheme="https",
        help_text="RFC 3161. Seals then carry a time stamp of somebody else. Empty: a seal states its moment itself.",
    )
    road_engine_address = forms.URLField(
        label="Address of a road engine",
        required=False,
        assume_scheme="https",
        help_text="Only where you run or rent one. It is asked for drives between your base and your barns, by their "
        "places. Empty: the estimate above, and nobody is asked.",
    )
    layout = Layout(
        Fieldset(
            "On paper",
            "name",
            "address",
            "country",
            "email",
            "phone",
            "tax_identity",
            "registration",
            "how_to_pay",
            "paper",
            "words",
        ),
        Fieldset("Paid by bank", "iban", "bic", "prints_reference", "e_invoice"),
        Fieldset("Place and money", "time_zone", "currency", "distance_unit", "place_of_law"),
        Fieldset("Periods", "quote_days", "payment_days", "cancel_notice_hours", "spot_needs_full_within"),
        Fieldset("In your words", "preparation_words", "first_session_words", "after_care_words"),
        Fieldset(
            "Permission to work",
            "signing_age",
            "who_signs",
            "reask_days",
            "consent_notice_days",
            "own_paper_notice_days",
            "dose_critical_holds",
        ),
        Fieldset("Signing in", "asks_second_step"),
        Fieldset("Seals", "time_stamp_address"),
        Fieldset(
            "A day on the road",
            "base_lat",
            "base_lon",
            "day_start",
            "day_end",
            "lunch_minutes",
            "lunch_from",
            "lunch_to",
            "setup_minutes",
            "speed_mph",
            "circuity",
            "road_engine",
            "road_engine_address",
            "tile_address",
            "tile_credit",
        ),
    )

    class Meta:
        model = Business
        exclude = ["id"]
        labels = {
            "name": "Name of the business",
            "paper": "Paper size",
            "tax_identity": "Tax number",
            "registration": "Registration number of the business",
            "iban": "IBAN",
            "bic": "BIC",
            "prints_reference": "Print a payment reference on each invoice",
            "e_invoice": "Put an e-invoice into each invoice",
            "asks_second_step": "Everybody signs in with a second step",
            "words": "Spelling and words",
            "distance_unit": "Distances in",
            "payment_days": "Days to pay an invoice",
            "quote_days": "Days that a quote stays open",
            "spot_needs_full_within": "Days that a full body carries a spot",
            "cancel_notice_hours": "Hours of notice to cancel a visit",
            "base_lat": "Latitude of your base",
            "base_lon": "Longitude of your base",
            "setup_minutes": "Minutes to set up at a stop",
            "speed_mph": "Usual speed, miles an hour",
            "circuity": "Road miles for each mile straight",
            "road_engine": "Kind of road engine",
            "tile_address": "Address of map pictures",
            "tile_credit": "Credit that their maker asks for",
            "preparation_words": "What to prepare, the day before",
            "first_session_words": "The first session with a horse",
            "after_care_words": "After care",
            "signing_age": "Age from which a person may sign",
            "who_signs": "Who signs a consent where a horse has several owners",
            "reask_days": "Days until a health fact is asked again",
            "consent_notice_days": "Days of notice before a consent ends",
            "own_paper_notice_days": "Days of notice before a paper of your own ends",
            "dose_critical_holds": "Hold for a dose-critical medicine",
        }
        help_texts = {
            "iban": "The account that owners pay into, where your country has them.",
            "prints_reference": "ISO 11649: a bank carries it as it stands, so a payment is known by it. In EUR, with "
            "an IBAN, a picture for the owner’s banking app stands beside it.",
            "e_invoice": "EN 16931: the PDF carries the same invoice for programs to read. What the official rules "
            "would refuse is not issued, and the page says what to mend.",
            "base_lat": "Where the day's drive starts and ends, such as 39.35.",
            "base_lon": "West is negative, such as -104.6.",
            "tile_address": "Such as https://tiles.example/{z}/{x}/{y}.png. Your browser then asks that host for "
            "pictures under the map of a round. Empty: our own drawing alone, and nobody is asked.",
            "who_signs": "A co-owner who takes back a consent in writing holds the horse, whatever this says.",
            "payment_days": "0 means on receipt.",
            "consent_notice_days": "A note appears this long before, so that a new one can be signed in time.",
            "own_paper_notice_days": "License, insurance, vehicle, first aid: a note from then on.",
            "circuity": "1.3 means that 10 miles as the crow flies are about 13 by road.",
        }

    def clean_iban(self) -> str:
        return str(iban.compact(self.cleaned_data["iban"]))

    def clean_bic(self) -> str:
        return str(bic.compact(self.cleaned_data["bic"]))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self._check_order("day_start", "day_end", "The day ends before it starts.")
        self._check_order("lunch_from", "lunch_to", "Lunch ends before it starts.")
        lat, lon = cleaned.get("base_lat"), cleaned.get("base_lon")
        if (lat is None) != (lon is None) and not {"base_lat", "base_lon"} & set(self.errors):
            missing = "base_lat" if lat is None else "base_lon"
            self.add_error(missing, "Latitude and longitude belong together: write both or neither.")
        return cleaned

    def _check_order(self, first: str, last: str, sentence: str) -> None:
        start, end = self.cleaned_data.get(first), self.cleaned_data.get(last)
        if start and end and end <= start:
            self.add_error(last, sentence)


AS_USUAL = [("", "As usual there")]


class WelcomeForm(Form):
    """The few things that must be known before the first horse is written down; the country says the rest."""

    business_name = forms.CharField(label="Name of the business", max_length=120, help_text="As it stands on paper.")
    country = forms.ChoiceField(
        choices=country_choices, initial="US", help_text="Money, paper, distances and spelling follow from it."
    )
    currency = forms.ChoiceField(choices=lambda: [*AS_USUAL, *currency_choices()], required=False)
    time_zone = forms.ChoiceField(
        choices=lambda: [*AS_USUAL, *zone_choices()],
        required=False,
        label="Time zone",
        widget=forms.Select(attrs={"data-zone": ""}),
    )
    paper = forms.ChoiceField(label="Paper size", choices=[*AS_USUAL, *Business.Paper.choices], required=False)
    distance_unit = forms.ChoiceField(
        label="Distances in", choices=[*AS_USUAL, *Business.Distance.choices], required=False
    )
    words = forms.ChoiceField(label="Spelling and words", choices=[*AS_USUAL, *Business.Words.choices], required=False)
    first_name = forms.CharField(label="Your first name", max_length=150)
    last_name = forms.CharField(label="Your last name", max_length=150, required=False)
    username = forms.CharField(
        label="Name to sign in with",
        max_length=150,
        help_text="Letters, digits and @ . + - _ only.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = password_field("Password", HOW_TO_CHOOSE)
    password_again = password_field("The same password again")
    layout = Layout(
        Fieldset("Your business", "business_name", "country"),
        Fieldset("You", "first_name", "last_name", "username", "password", "password_again"),
        Fieldset("Other than usual in your country?", "currency", "time_zone", "paper", "distance_unit", "words"),
    )

    def clean_username(self) -> str:
        name: str = self.cleaned_data["username"]
        User._meta.get_field("username").run_validators(name)
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_passwords(self, self.owner_manager())
        return cleaned

    def business(self, on: date) -> Business:
        country = self.cleaned_data["country"]
        usual = asdict(usual_in(country, on))
        values = {name: self.cleaned_data.get(name) or usual[name] for name in usual}
        return Business(name=self.cleaned_data["business_name"], country=country, **values)

    def owner_manager(self) -> User:
        names = ("first_name", "last_name", "username")
        values = {name: self.cleaned_data.get(name, "") for name in names}
        return User(role=Role.OWNER_MANAGER.value, drives_rounds=True, **values)
