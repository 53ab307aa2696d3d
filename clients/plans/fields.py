"""Groups of fields that several forms share: how often full bodies are given, and which days are off."""

from collections.abc import Sequence
from typing import Any, cast

from crispy_forms.layout import Div, Field
from django import forms

from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.ui.forms import Form
from clients.plans.cadence import WEEKDAY_NAMES, OnDayOff
from clients.plans.days_off import parted, read_dates
from clients.plans.holiday_calendars import Choice, calendar_choices, say_calendar
from clients.plans.recurrence import WEEKDAYS, WrongRule, read_rule
from clients.plans.rhythm import Way, read_rhythm, rule_of_month_day, rule_of_weekdays, say_month_day

WEEKDAY_CHOICES = list(zip(WEEKDAYS, WEEKDAY_NAMES, strict=True))
MONTH_DAY_CHOICES = [
    ("", "\N{EN DASH}"),
    *((str(day), f"the {say_month_day(day)}{' or the last day' if day > 28 else ''}") for day in range(1, 32)),
]
WAYS = [
    (Way.DAYS, "Every so many days"),
    (Way.WEEKDAYS, "On weekdays"),
    (Way.MONTHLY, "Once a month"),
    (Way.RULE, "By a rule of my own"),
    (Way.NONE, "No full body"),
]


class RhythmFields(Form):
    """How often a full body is given. Once valid, `cleaned_data` holds `full_every` and `full_rule`.

    The style sheet shows the one field that belongs to the chosen way; what the others hold is not read.
    """

    rhythm = forms.ChoiceField(choices=WAYS, required=False, label="Full bodies", initial=Way.DAYS)
    full_every = forms.IntegerField(min_value=1, max_value=365, required=False, label="Every how many days?")
    weekdays = forms.MultipleChoiceField(
        choices=WEEKDAY_CHOICES, required=False, widget=forms.CheckboxSelectMultiple, label="On which weekdays?"
    )
    month_day = forms.TypedChoiceField(
        choices=MONTH_DAY_CHOICES, coerce=int, empty_value=None, required=False, label="On which day of the month?"
    )
    full_rule = forms.CharField(
        max_length=200,
        required=False,
        label="The rule",
        help_text="By RFC 5545, such as FREQ=MONTHLY;BYDAY=1MO for each first Monday.",
    )

    FIELD_OF = {
        Way.DAYS: "full_every",
        Way.WEEKDAYS: "weekdays",
        Way.MONTHLY: "month_day",
        Way.RULE: "full_rule",
    }
    MISSING = {
        Way.DAYS: "Say every how many days.",
        Way.WEEKDAYS: "Tick at least one weekday.",
        Way.MONTHLY: "Choose the day of the month.",
        Way.RULE: "Write the rule.",
    }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        way = self._way(cleaned)
        for other, name in self.FIELD_OF.items():
            if other != way:
                self.errors.pop(name, None)
        chosen = self.FIELD_OF.get(way)
        value = cleaned.get(chosen) if chosen else None
        if chosen and not value and chosen not in self.errors:
            self.add_error(chosen, self.MISSING[way])
        return {**cleaned, "full_every": value if way is Way.DAYS else None, "full_rule": self._rule(way, value)}

    def _way(self, cleaned: dict[str, Any]) -> Way:
        """The chosen way; a form sent without one means the first field that is filled in."""
        if cleaned.get("rhythm"):
            return Way(cleaned["rhythm"])
        filled = (way for way, name in self.FIELD_OF.items() if cleaned.get(name) or name in self.errors)
        return next(filled, Way.NONE)

    def _rule(self, way: Way, value: Any) -> str:
        if not value or way not in (Way.WEEKDAYS, Way.MONTHLY, Way.RULE):
            return ""
        if way is Way.WEEKDAYS:
            return rule_of_weekdays(value)
        if way is Way.MONTHLY:
            return rule_of_month_day(value)
        try:
            read_rule(value.strip())
        except WrongRule as wrong:
            self.add_error("full_rule", f"This is not a rule by days: {wrong}.")
        return str(value.strip())


def rhythm_layout() -> Div:
    ways = {name: way for way, name in RhythmFields.FIELD_OF.items()}
    fields = [Field(name, wrapper_class=f"way way-{way}") for name, way in ways.items() if name != "weekdays"]
    fields.insert(1, Field("weekdays", wrapper_class="way way-weekdays weekdays"))
    return Div("rhythm", *fields, css_class="rhythm")


def rhythm_initial(full_every: int | None, full_rule: str) -> dict[str, Any]:
    """What the fields show of a rhythm that exists."""
    rhythm = read_rhythm(full_every, full_rule)
    return {
        "rhythm": rhythm.way,
        "full_every": rhythm.every,
        "weekdays": rhythm.weekdays,
        "month_day": rhythm.month_day,
        "full_rule": rhythm.rule,
    }


class DaysOffFields(Form):
    """Weekdays, single dates and public holidays without sessions, and what happens to a session on one of them."""

    off_weekdays = forms.MultipleChoiceField(
        choices=WEEKDAY_CHOICES, required=False, widget=forms.CheckboxSelectMultiple, label="Days off"
    )
    off_holidays = forms.ChoiceField(required=False, label="Public holidays off")
    off_dates = forms.CharField(
        max_length=800, required=False, label="Single days off", help_text="Such as 2026-03-17, 2026-12-24."
    )
    on_day_off = forms.ChoiceField(
        choices=[
            (OnDayOff.KEEP, "is given all the same"),
            (OnDayOff.NEXT, "moves to the next open day"),
            (OnDayOff.DROP, "is left out"),
        ],
        initial=OnDayOff.KEEP,
        label="A session on a day off",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        holidays = cast("forms.ChoiceField", self.fields["off_holidays"])
        first = "GB" if the_business().words == Business.Words.UK else "US"
        holidays.choices = [("", "none"), *_with_chosen(self["off_holidays"].value(), calendar_choices(first))]

    def clean_off_dates(self) -> tuple[str, ...]:
        try:
            return read_dates(self.cleaned_data["off_dates"])
        except ValueError as wrong:
            raise forms.ValidationError(f"This cannot be read: {wrong}.") from None

    def days_off(self) -> list[str]:
        """The entries of a valid form as `cadence.DaysOff.of` reads them."""
        chosen = self.cleaned_data
        holidays = chosen["off_holidays"]
        return [*chosen["off_weekdays"], *chosen["off_dates"], *([holidays] if holidays else [])]


DAYS_OFF_LAYOUT = (Field("off_weekdays", wrapper_class="weekdays"), "off_holidays", "off_dates", "on_day_off")


def days_off_initial(entries: Sequence[str], on_day_off: str) -> dict[str, Any]:
    """What the fields show of days off that exist."""
    weekdays, dates, calendars = parted(entries)
    return {
        "off_weekdays": weekdays,
        "off_dates": ", ".join(dates),
        "off_holidays": calendars[0] if calendars else "",
        "on_day_off": on_day_off,
    }


def _with_chosen(
    chosen: object, groups: Sequence[tuple[str, Sequence[Choice]]]
) -> list[tuple[str, str | Sequence[Choice]]]:
    """The groups, and a stored calendar that none of them holds, such as that of a part of another country."""
    offered = {entry for _name, choices in groups for entry, _label in choices}
    if not isinstance(chosen, str) or not chosen or chosen in offered:
        return list(groups)
    try:
        return [(chosen, say_calendar(chosen)), *groups]
    except ValueError:
        return list(groups)
