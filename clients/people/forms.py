from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple, cast

from crispy_forms.layout import HTML, Layout
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.ui.countries import country_choices
from backoffice.ui.forms import ModelForm
from clients.people.models import WEEKDAYS, Barn, BarnWindow, Person, VetPractice
from clients.people.phone import tidy_phone
from clients.people.place import km_between, parse_place, say_place
from clients.people.queries import barns_named, people_on_file

TOO_FAR_KM = 2000
OLDEST = 120


def home_region(business: Business) -> str:
    """The ISO 3166 letters of the country whose numbers are dialed without a code."""
    return "GB" if business.words == Business.Words.UK else "US"


class PhoneField(forms.CharField):
    """Tidied where a numbering plan is known; a sentence where it can be no number."""

    widget = forms.TextInput(attrs={"type": "tel", "autocomplete": "off"})

    def clean(self, value: Any) -> str:
        typed = super().clean(value)
        try:
            return tidy_phone(typed, home_region(the_business()))
        except ValueError as wrong:
            raise ValidationError(str(wrong)) from wrong


def more(summary: str) -> HTML:
    """Opens a part of a form that stays out of the way until it is asked for, or holds an error."""
    return HTML(f'<details class="more"{{% if form.errors %}} open{{% endif %}}><summary>{summary}</summary>')


END_OF_MORE = HTML("</details>")


def choose_from(rows: QuerySet[Any], field: forms.Field, nothing: str) -> None:
    """Let the field offer `rows`; `nothing` is the word for leaving it empty."""
    chooser = cast("forms.ModelChoiceField[Any]", field)
    chooser.empty_label = nothing
    chooser.queryset = rows


class PersonForm(ModelForm):
    far_days = ("born_on",)
    country = forms.ChoiceField(
        choices=lambda: [("", "As yours"), *country_choices()], required=False, help_text="Named on an e-invoice."
    )
    layout = Layout(
        "name",
        "phone",
        "email",
        "address",
        more("A minor, an organization, a deposit, a note"),
        "kind",
        "born_on",
        "under_age",
        "guardian",
        "wants_deposit",
        "country",
        "note",
        END_OF_MORE,
    )

    class Meta:
        model = Person
        fields = [
            "name",
            "phone",
            "email",
            "address",
            "kind",
            "born_on",
            "under_age",
            "guardian",
            "wants_deposit",
            "country",
            "note",
        ]
        field_classes = {"phone": PhoneField}
        labels = {"guardian": "Parent or guardian", "under_age": "Too young to sign"}
        help_texts = {"under_age": "A parent or guardian signs and pays."}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        grown_up = people_on_file().filter(kind=Person.Kind.PERSON, under_age=False).exclude(pk=self.instance.pk)
        choose_from(grown_up, self.fields["guardian"], "Nobody")

    def clean_born_on(self) -> date | None:
        born_on: date | None = self.cleaned_data["born_on"]
        if born_on is None:
            return None
        if born_on > self.today:
            raise ValidationError("This day is still to come.")
        if self.today.year - born_on.year > OLDEST:
            raise ValidationError(
                f"Born in {born_on.year}: {self.today.year - born_on.year} years old? Check the year."
            )
        return born_on

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        born_on = cleaned.get("born_on")
        if born_on and cleaned.get("kind") == Person.Kind.ORGANIZATION:
            self.add_error("born_on", "An organization has no date of birth.")
        elif born_on:
            cleaned["under_age"] = age_on(self.today, born_on) < the_business().signing_age
        if cleaned.get("guardian") and not cleaned.get("under_age"):
            self.add_error("guardian", "Only somebody too young to sign has a guardian here.")
        return cleaned


def age_on(day: date, born_on: date) -> int:
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


class VetPracticeForm(ModelForm):
    class Meta:
        model = VetPractice
        fields = ["name", "vet_name", "phone", "email", "address"]
        field_classes = {"phone": PhoneField}
        labels = {"name": "Name of the practice", "vet_name": "Usual vet"}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}


class WindowLine(NamedTuple):
    """The three controls of one window in the barn form."""

    day: forms.BoundField
    opens: forms.BoundField
    closes: forms.BoundField


class BarnForm(ModelForm):
    """A barn and, in lines below it, the times at which work there may start."""

    place = forms.CharField(
        label="Place on the map",
        required=False,
        help_text="Latitude and longitude, as a map gives them: 39.5, -104.72. Without it, rounds leave the barn out.",
    )
    area_days = forms.MultipleChoiceField(
        label="Days you are usually there",
        choices=list(WEEKDAYS.items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    extra_minutes = forms.IntegerField(
        label="Extra minutes on each drive",
        min_value=0,
        max_value=120,
        initial=0,
        help_text="Gravel, gates, a long lane.",
    )

    class Meta:
        model = Barn
        fields = [
            "name",
            "kind",
            "address",
            "note",
            "contact",
            "phone",
            "power",
            "signal",
            "outdoor_only",
            "asks_release",
            "area",
            "extra_minutes",
            "call_out_zone",
        ]
        field_classes = {"phone": PhoneField}
        labels = {
            "note": "How to get in, and what to know there",
            "contact": "Whom to ring there",
            "area": "Area",
            "call_out_zone": "Call-out zone",
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        barn: Barn | None = kwargs.get("instance")
        windows = list(barn.windows.all()) if barn and barn.pk else []
        self.window_numbers = range(1, len(windows) + 3)
        # before the base prepares its fields, so that these lines are prepared with them
        self.base_fields = {**type(self).base_fields, **_window_fields(self.window_numbers)}  # type: ignore[misc]
        kwargs["initial"] = {**_initial_of(barn, windows), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        choose_from(people_on_file(), self.fields["contact"], "Nobody yet")

    @property
    def window_lines(self) -> Iterator[WindowLine]:
        for number in self.window_numbers:
            yield WindowLine(self[f"day_{number}"], self[f"opens_{number}"], self[f"closes_{number}"])

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        for known in barns_named(name):
            if known.pk != self.instance.pk:
                raise ValidationError(f"There is already a barn called {known}. Give this one a second word.")
        return name

    def clean_place(self) -> tuple[float, float] | None:
        typed = self.cleaned_data["place"]
        if not typed:
            return None
        try:
            place = parse_place(typed)
        except ValueError as wrong:
            raise ValidationError(str(wrong)) from wrong
        base = the_business()
        if base.base_lat is not None and base.base_lon is not None:
            away = km_between(place, (base.base_lat, base.base_lon))
            if away > TOO_FAR_KM:
                raise ValidationError(f"This is {away:,.0f} km from your base. Is a minus sign missing?")
        return place

    def clean_area_days(self) -> str:
        return ",".join(code for code in WEEKDAYS if code in self.cleaned_data["area_days"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for number in self.window_numbers:
            opens, closes = cleaned.get(f"opens_{number}"), cleaned.get(f"closes_{number}")
            if opens and closes and closes <= opens:
                self.add_error(f"closes_{number}", "It ends before it begins.")
            for given, other in ((opens, "closes"), (closes, "opens")):
                if given and not cleaned.get(f"{other}_{number}") and f"{other}_{number}" not in self.errors:
                    self.add_error(f"{other}_{number}", "A time needs its beginning and its end.")
        return cleaned

    def save(self, commit: bool = True) -> Barn:
        barn: Barn = self.instance
        place = self.cleaned_data["place"]
        barn.lat, barn.lon = place or (None, None)
        barn.area_days = self.cleaned_data["area_days"]
        super().save(commit)
        barn.windows.all().delete()
        BarnWindow.objects.bulk_create(self._windows(barn))
        return barn

    def _windows(self, barn: Barn) -> Iterator[BarnWindow]:
        for number in self.window_numbers:
            opens, closes = self.cleaned_data[f"opens_{number}"], self.cleaned_data[f"closes_{number}"]
            if opens:
                day = self.cleaned_data[f"day_{number}"]
                yield BarnWindow(barn=barn, weekday=int(day) if day else None, opens=opens, closes=closes)


def _window_fields(numbers: Iterable[int]) -> dict[str, forms.Field]:
    days = [("", "Every day"), *((str(day), name) for day, name in enumerate(WEEKDAYS.values()))]
    fields: dict[str, forms.Field] = {}
    for number in numbers:
        fields[f"day_{number}"] = forms.ChoiceField(label="Day", choices=days, required=False)
        fields[f"opens_{number}"] = forms.TimeField(label="From", required=False)
        fields[f"closes_{number}"] = forms.TimeField(label="To", required=False)
    return fields


def _initial_of(barn: Barn | None, windows: Sequence[BarnWindow]) -> dict[str, Any]:
    initial: dict[str, Any] = {"area_days": barn.area_days.split(",") if barn else []}
    if barn and barn.lat is not None and barn.lon is not None:
        initial["place"] = say_place(barn.lat, barn.lon)
    for number, window in enumerate(windows, start=1):
        weekday = "" if window.weekday is None else str(window.weekday)
        line = {"day": weekday, "opens": window.opens, "closes": window.closes}
        initial |= {f"{name}_{number}": value for name, value in line.items()}
    return initial
