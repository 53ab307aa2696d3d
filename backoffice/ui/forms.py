"""The base of every form: plain sentences at the right field, nothing typed is lost, the same markup everywhere."""

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from backoffice.refusal import Refused

LONGEST_LINE = 200
LONGEST_TEXT = 4000
LARGEST_NUMBER = 2_000_000_000
EARLIEST, EARLIEST_FAR, LATEST = date(1980, 1, 1), date(1900, 1, 1), date(2100, 12, 31)


@dataclass(frozen=True, slots=True)
class ErrorLine:
    """One line of the summary above a form: what is wrong, and the id of the control to go to."""

    anchor: str
    label: str
    sentence: str


def no_hidden_characters(value: str) -> None:
    """Refuse what no keyboard writes (Unicode general categories Cc and Cs), but for line ends and tabs."""
    for character in str(value):
        if unicodedata.category(character) in {"Cc", "Cs"} and character not in "\n\r\t":
            raise ValidationError(
                f"This holds a hidden character (U+{ord(character):04X}). Type it again or remove it."
            )


def prepare_fields(form: forms.BaseForm, *, far_days: tuple[str, ...] = ()) -> None:
    """Give each field our sentences, limits and a control that keeps what was typed."""
    for name, field in form.fields.items():
        label = field.label or name.replace("_", " ").capitalize()
        field.error_messages["required"] = f"{label} is missing."
        if isinstance(field, (forms.IntegerField, forms.DecimalField)):
            _prepare_number(field)
        elif isinstance(field, forms.DateField):
            _prepare_day(field, EARLIEST_FAR if name in far_days else EARLIEST)
        elif isinstance(field, forms.TimeField):
            field.widget = forms.TimeInput(attrs={**field.widget.attrs, "type": "time"}, format="%H:%M")
            field.error_messages["invalid"] = "Write a time such as 8:30."
        elif isinstance(field, forms.DateTimeField):
            _prepare_moment(field)
        elif isinstance(field, forms.ChoiceField) or hasattr(field, "queryset"):
            field.error_messages["invalid_choice"] = "Choose one from the list."
        elif isinstance(field, forms.CharField):
            _prepare_text(field)


def _prepare_text(field: forms.CharField) -> None:
    if field.max_length is None:
        field.max_length = LONGEST_TEXT if isinstance(field.widget, forms.Textarea) else LONGEST_LINE
    field.validators = [rule for rule in field.validators if not isinstance(rule, MaxLengthValidator)]
    field.validators += [
        MaxLengthValidator(field.max_length, "Write at most %(limit_value)d characters; this has %(show_value)d."),
        no_hidden_characters,
    ]
    field.widget.attrs.pop("maxlength", None)  # a browser would cut a pasted text without a word
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs["rows"] = field.widget.attrs.get("rows", 4)


def _prepare_number(field: forms.IntegerField | forms.DecimalField) -> None:
    whole = type(field) is forms.IntegerField
    bounds = {"min": field.min_value, "max": field.max_value}
    if isinstance(field.widget, forms.NumberInput):
        attrs = {key: value for key, value in field.widget.attrs.items() if key not in {"min", "max", "step"}}
        field.widget = forms.TextInput(attrs={"inputmode": "numeric" if whole else "decimal", **attrs})
        field.widget.attrs["class"] = f"{attrs.get('class', '')} figure".strip()
    field.error_messages["invalid"] = "Write a whole number, in figures." if whole else "Write a number, in figures."
    for rule in field.validators:
        if isinstance(rule, MinValueValidator):
            rule.message = "Write %(limit_value)s or more."
        elif isinstance(rule, MaxValueValidator):
            rule.message = "Write %(limit_value)s or less."
    if bounds["max"] is None:
        field.validators.append(MaxValueValidator(LARGEST_NUMBER, "This number is too large."))
    if bounds["min"] is None:
        field.validators.append(MinValueValidator(-LARGEST_NUMBER, "This number is too small."))


def _prepare_day(field: forms.DateField, earliest: date) -> None:
    field.widget = forms.DateInput(attrs={**field.widget.attrs, "type": "date"}, format="%Y-%m-%d")
    field.error_messages["invalid"] = "Write a date such as 2026-03-12."
    field.validators += [
        MinValueValidator(earliest, f"This date is before {earliest.year}. Check the year."),
        MaxValueValidator(LATEST, f"This date is after {LATEST.year}. Check the year."),
    ]


def _prepare_moment(field: forms.DateTimeField) -> None:
    field.widget = forms.DateTimeInput(attrs={**field.widget.attrs, "type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    field.error_messages["invalid"] = "Write a date and a time such as 2026-03-12 8:30."
    field.validators.append(_moment_is_sensible)


def _moment_is_sensible(value: datetime) -> None:
    if not EARLIEST.year <= value.year <= LATEST.year:
        raise ValidationError(f"This date is not between {EARLIEST.year} and {LATEST.year}. Check the year.")


class Prepared(forms.BaseForm):
    """Shared by `Form` and `ModelForm`. `far_days` names date fields that may lie before 1980, such as a birthday."""

    layout: ClassVar[Layout | None] = None
    far_days: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        prepare_fields(self, far_days=self.far_days)
        self.helper = FormHelper(self)
        self.helper.form_tag = False
        self.helper.disable_csrf = True
        self.helper.render_hidden_fields = True
        if self.layout is not None:
            self.helper.layout = self.layout
            self.helper.render_unmentioned_fields = True

    def error_lines(self) -> list[ErrorLine]:
        """Every sentence at its field, for the summary above the form."""
        return [
            ErrorLine(anchor=self._anchor(name), label=self._label(name), sentence=str(sentence))
            for name, sentences in self.errors.items()
            for sentence in sentences
        ]

    def _label(self, name: str) -> str:
        return str(self[name].label) if name in self.fields else ""

    def _anchor(self, name: str) -> str:
        if name not in self.fields:
            return ""
        bound = self[name]
        return bound.id_for_label or f"{bound.auto_id}_0"


class Form(Prepared, forms.Form):
    pass


class ModelForm(Prepared, forms.ModelForm):  # type: ignore[type-arg]
    pass


@contextmanager
def showing_refusal(form: forms.BaseForm) -> Iterator[None]:
    """A `Refused` inside the block becomes an error above the form, so that what was typed stays on the page."""
    try:
        yield
    except Refused as refused:
        form.add_error(None, refused.sentence)


def render_form(
    request: HttpRequest,
    form: forms.BaseForm,
    *,
    heading: str,
    submit: str,
    back: str,
    kicker: str = "",
    intro: str = "",
    template: str = "ui/form.html",
    context: dict[str, Any] | None = None,
    status: int | None = None,
) -> HttpResponse:
    """A page with one form; 422 when it came back with errors. `back` is the address of the way out."""
    wrong = form.is_bound and bool(form.errors)
    shown = {
        "form": form,
        "heading": heading,
        "submit": submit,
        "back": back,
        "kicker": kicker,
        "intro": intro,
        **(context or {}),
    }
    return render(request, template, shown, status=status or (422 if wrong else 200))
