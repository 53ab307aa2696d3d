"""The base of every form: plain sentences at the right field, nothing typed is lost, the same markup everywhere."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from backoffice.refusal import Refused
from backoffice.ui.fields import prepare_fields, take_limits_of_model


@dataclass(frozen=True, slots=True)
class ErrorLine:
    """One line of the summary above a form: what is wrong, and the id of the control to go to."""

    anchor: str
    label: str
    sentence: str

    @property
    def text(self) -> str:
        """The sentence with the field's name before it, unless it begins with that name."""
        named = not self.label or self.sentence.startswith(self.label)
        if named:
            return self.sentence
        return f"{self.label} {self.sentence}" if self.label.endswith("?") else f"{self.label}: {self.sentence}"


class Helper(FormHelper):  # type: ignore[misc]
    """Lays out what the form has: one that left a field out leaves its place out too."""

    layout: Any

    def render_layout(self, form: forms.BaseForm, context: Any, **options: Any) -> str:
        self.layout = _with_fields_of(form, self.layout)
        return str(super().render_layout(form, context, **options))


def _with_fields_of(form: forms.BaseForm, part: Any) -> Any:
    if not hasattr(part, "fields"):
        return part
    kept = copy(part)
    named = (each for each in part.fields if not isinstance(each, str) or each in form.fields)
    kept.fields = [_with_fields_of(form, each) for each in named]
    return kept


class Prepared(forms.BaseForm):
    """Shared by `Form` and `ModelForm`. `far_days` names date fields that may lie before 1980, such as a birthday."""

    layout: ClassVar[Layout | None] = None
    has_summary = True
    far_days: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        if isinstance(self, forms.BaseModelForm):
            take_limits_of_model(self)
        prepare_fields(self, far_days=self.far_days)
        self.helper = Helper(self)
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


@dataclass(frozen=True, slots=True)
class Summary:
    """What is wrong on a page of several forms, for one summary at its top."""

    is_bound: bool
    error_lines: tuple[ErrorLine, ...]

    @property
    def errors(self) -> bool:
        return bool(self.error_lines)


def one_summary(parts: Sequence[tuple[str, Prepared]]) -> Summary:
    """The summary of forms that stand on one page, each with a name to say before its lines; they show none alone."""
    lines: list[ErrorLine] = []
    for name, form in parts:
        form.has_summary = False
        for line in form.error_lines():
            lines.append(replace(line, label=f"{name}, {line.label.lower()}") if name else line)
    return Summary(any(form.is_bound for _name, form in parts), tuple(lines))


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
