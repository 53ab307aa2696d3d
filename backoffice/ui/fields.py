"""What every form field gets: our sentences, limits against absurd input, a control that keeps what was typed."""

import unicodedata
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import BaseValidator, MaxLengthValidator, MaxValueValidator, MinValueValidator

from backoffice.british import is_british, spoken

LONGEST_LINE = 200
LONGEST_TEXT = 4000
LARGEST_NUMBER = 2_000_000_000
EARLIEST, EARLIEST_FAR, LATEST = date(1980, 1, 1), date(1900, 1, 1), date(2100, 12, 31)
DJANGO_ROWS = "10"
DJANGO_BLANK = "---------"


def no_hidden_characters(value: str) -> None:
    """Refuse what no keyboard writes (Unicode general categories Cc and Cs), but for line ends and tabs."""
    for character in str(value):
        if unicodedata.category(character) in {"Cc", "Cs"} and character not in "\n\r\t":
            raise ValidationError(
                f"This holds a hidden character (U+{ord(character):04X}). Remove it or type it again."
            )


def prepare_fields(form: forms.BaseForm, *, far_days: tuple[str, ...] = ()) -> None:
    """Prepare each field in place; a sentence or a control that the form chose itself stays."""
    for name, field in form.fields.items():
        _speak(field, name)
        _say(field, "required", _when_missing(field, str(field.label or name.replace("_", " ").capitalize())))
        if isinstance(field, (forms.IntegerField, forms.DecimalField)):
            _prepare_number(field)
        elif isinstance(field, forms.DateField):
            _prepare_day(field, EARLIEST_FAR if name in far_days else EARLIEST)
        elif isinstance(field, forms.TimeField):
            _prepare_time(field)
        elif isinstance(field, forms.DateTimeField):
            _prepare_moment(field)
        elif isinstance(field, forms.ChoiceField):
            _prepare_choice(field)
        elif isinstance(field, forms.CharField) and not isinstance(field, (forms.JSONField, forms.UUIDField)):
            _prepare_text(field)


def _speak(field: forms.Field, name: str) -> None:
    """Label, help and choices in the words of the business; what people named is in no form's own text."""
    if not is_british():
        return
    field.label = spoken(str(field.label or name.replace("_", " ").capitalize()))
    field.help_text = spoken(str(field.help_text))
    field.error_messages = {code: spoken(str(said)) for code, said in field.error_messages.items()}
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        field.choices = [(value, _spoken_choice(label)) for value, label in cast(Any, field.choices)]


def _spoken_choice(label: Any) -> Any:
    if isinstance(label, list | tuple):
        return [(value, spoken(str(one))) for value, one in label]
    return spoken(str(label))


def take_limits_of_model(form: forms.BaseModelForm) -> None:  # type: ignore[type-arg]
    """Have the form's numbers keep the limits of the model's, which would otherwise speak later, in Django's words."""
    for model_field in form._meta.model._meta.fields:
        field = form.fields.get(model_field.name)
        if not isinstance(field, (forms.IntegerField, forms.DecimalField)):
            continue
        for rule in model_field.validators:
            if isinstance(rule, MinValueValidator) and (field.min_value is None or rule.limit_value > field.min_value):
                field.min_value = rule.limit_value
                _replace_limit(field, rule)
            if isinstance(rule, MaxValueValidator) and (field.max_value is None or rule.limit_value < field.max_value):
                field.max_value = rule.limit_value
                _replace_limit(field, rule)


def _replace_limit(field: forms.Field, rule: MinValueValidator | MaxValueValidator) -> None:
    others = [other for other in field.validators if type(other) is not type(rule) or _has_own_words(other)]
    field.validators = [*others, type(rule)(rule.limit_value)]


def _say(field: forms.Field, code: str, sentence: str) -> None:
    """Our sentence in place of Django's, but not in place of one that the form wrote itself."""
    defaults = [getattr(parent, "default_error_messages", {}).get(code) for parent in type(field).__mro__]
    if field.error_messages.get(code) in [None, *defaults]:
        field.error_messages[code] = sentence


def _has_own_words(rule: object) -> bool:
    return isinstance(rule, BaseValidator) and "message" in vars(rule)


def _when_missing(field: forms.Field, label: str) -> str:
    if isinstance(field, forms.BooleanField):
        return "Tick this to go on."
    if label.endswith("?"):
        return "Choose an answer." if isinstance(field, forms.ChoiceField) else "Write an answer."
    return f"{label} is missing."


def _prepare_choice(field: forms.ChoiceField) -> None:
    _say(field, "invalid_choice", "Choose one from the list.")
    nothing = "Choose one" if field.required else "\N{EN DASH}"
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == DJANGO_BLANK:
            field.empty_label = nothing
        return
    choices = list(cast(Iterable[tuple[Any, Any]], field.choices))
    if choices and choices[0] == ("", DJANGO_BLANK):
        field.choices = [("", nothing), *choices[1:]]


def _prepare_text(field: forms.CharField) -> None:
    if field.max_length is None:
        field.max_length = LONGEST_TEXT if isinstance(field.widget, forms.Textarea) else LONGEST_LINE
    field.validators = [
        rule for rule in field.validators if not isinstance(rule, MaxLengthValidator) or _has_own_words(rule)
    ]
    too_long = "Write at most %(limit_value)d characters; this has %(show_value)d."
    field.validators += [MaxLengthValidator(field.max_length, too_long), no_hidden_characters]
    field.widget.attrs.pop("maxlength", None)  # a browser would cut a pasted text without a word
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs.pop("cols", None)
        if str(field.widget.attrs.get("rows", DJANGO_ROWS)) == DJANGO_ROWS:
            field.widget.attrs["rows"] = "4"


def _prepare_number(field: forms.IntegerField | forms.DecimalField) -> None:
    whole = type(field) is forms.IntegerField
    if type(field.widget) is forms.NumberInput:
        attrs = {key: value for key, value in field.widget.attrs.items() if key not in {"min", "max", "step"}}
        attrs["class"] = f"{attrs.get('class', '')} figure".strip()
        # a number input hides from us what a browser cannot read as a number, and so loses it
        field.widget = forms.TextInput(attrs={"inputmode": "numeric" if whole else "decimal", **attrs})
    _say(field, "invalid", "Write a whole number, in figures." if whole else "Write a number, in figures.")
    for rule in field.validators:
        if isinstance(rule, MinValueValidator) and not _has_own_words(rule):
            rule.message = "Write %(limit_value)s or more."
        elif isinstance(rule, MaxValueValidator) and not _has_own_words(rule):
            rule.message = "Write %(limit_value)s or less."
    if field.max_value is None:
        field.validators.append(MaxValueValidator(LARGEST_NUMBER, "This number is too large."))
    if field.min_value is None:
        field.validators.append(MinValueValidator(-LARGEST_NUMBER, "This number is too small."))


def _prepare_day(field: forms.DateField, earliest: date) -> None:
    if type(field.widget) is forms.DateInput:
        field.widget = forms.DateInput(attrs={**field.widget.attrs, "type": "date"}, format="%Y-%m-%d")
    _say(field, "invalid", "Write a date such as 2026-03-12.")
    field.validators += [
        MinValueValidator(earliest, f"This date is before {earliest.year}. Check the year."),
        MaxValueValidator(LATEST, f"This date is after {LATEST.year}. Check the year."),
    ]


def _prepare_time(field: forms.TimeField) -> None:
    if type(field.widget) is forms.TimeInput:
        field.widget = forms.TimeInput(attrs={**field.widget.attrs, "type": "time"}, format="%H:%M")
    _say(field, "invalid", "Write a time such as 8:30.")


def _prepare_moment(field: forms.DateTimeField) -> None:
    if type(field.widget) is forms.DateTimeInput:
        attrs = {**field.widget.attrs, "type": "datetime-local"}
        field.widget = forms.DateTimeInput(attrs=attrs, format="%Y-%m-%dT%H:%M")
    _say(field, "invalid", "Write a date and a time such as 2026-03-12 8:30.")
    field.validators.append(_moment_is_sensible)


def _moment_is_sensible(value: datetime) -> None:
    if not EARLIEST.year <= value.year <= LATEST.year:
        raise ValidationError(f"This date is not between {EARLIEST.year} and {LATEST.year}. Check the year.")
