"""The form of the intake: the stop-and-ask list and the medicines."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any, NamedTuple

from django import forms

from backoffice.ui.forms import Form
from backoffice.ui.words import day
from clients.animals.actions import HealthAnswer, say_day
from clients.animals.forms import Dated, PastDay
from clients.animals.models import GESTATION, Animal, HealthFact

LONGEST_IN_FOAL = timedelta(days=400)


class Question(NamedTuple):
    """The controls of one question of the intake, and the answer that holds."""

    label: str
    state: forms.BoundField
    note: forms.BoundField
    covered_on: forms.BoundField | None
    latest: HealthFact | None


MEDICINES = (HealthFact.Kind.DOSE_CRITICAL, HealthFact.Kind.MEDICINE)


class HealthForm(Dated, Form):
    """The stop-and-ask list and the medicines. What is not touched is not written down as asked."""

    on = PastDay(label="Asked on")
    asked_again = forms.BooleanField(
        label="I asked everything again: what is left “as before” is still so", required=False
    )
    covered_on = forms.DateField(
        label="Covered on", required=False, help_text="Gives the due date, about 340 days later."
    )

    def __init__(self, *args: Any, animal: Animal, health: dict[str, HealthFact], **kwargs: Any) -> None:
        self.animal, self.health = animal, health
        # before the base prepares its fields, so that these questions are prepared with them
        self.base_fields = {**type(self).base_fields, **_question_fields(health)}  # type: ignore[misc]
        super().__init__(*args, **kwargs)

    @property
    def questions(self) -> Iterator[Question]:
        for kind in HealthFact.Kind:
            covered = self["covered_on"] if kind == HealthFact.Kind.IN_FOAL else None
            yield Question(kind.label, self[kind], self[f"{kind}_note"], covered, self.health.get(kind))

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for kind in HealthFact.Kind:
            note, state = cleaned.get(f"{kind}_note"), cleaned.get(kind)
            if note and state in {"", HealthFact.State.NOT_ASKED}:
                self.add_error(kind, "A note goes with an answer: choose one.")
            if kind in MEDICINES and state == HealthFact.State.YES and not note and f"{kind}_note" not in self.errors:
                self.add_error(f"{kind}_note", "Which medicine is it?")
        self._judge_foal(cleaned.get(HealthFact.Kind.IN_FOAL), cleaned.get("covered_on"))
        if not self.errors and not self.answers:
            self.add_error(None, "Nothing was answered, so there is nothing to write down.")
        return cleaned

    def _judge_foal(self, state: str | None, covered_on: date | None) -> None:
        sex = self.animal.sex
        if state == HealthFact.State.YES and sex in {Animal.Sex.GELDING, Animal.Sex.STALLION}:
            self.add_error(HealthFact.Kind.IN_FOAL, f"{self.animal} is written down as a {sex}.")
        if covered_on is None:
            return
        asked_on = self.cleaned_data.get("on") or self.today
        if state != HealthFact.State.YES:
            self.add_error("covered_on", "A covering date goes with “yes”.")
        elif covered_on > asked_on:
            self.add_error("covered_on", "This is later than the day of asking.")
        elif asked_on - covered_on > LONGEST_IN_FOAL:
            due = say_day(covered_on + GESTATION)
            self.add_error("covered_on", f"Covered then, the foal was due about {due}. Check the date.")

    @property
    def answers(self) -> dict[HealthFact.Kind, HealthAnswer]:
        """What was asked: each question answered now, and all that stays as before when everything was asked again."""
        answers = {}
        for kind in HealthFact.Kind:
            state, latest = self.cleaned_data.get(kind), self.health.get(kind)
            if state and not (state == HealthFact.State.NOT_ASKED and latest is None):
                covered_on = self.cleaned_data["covered_on"] if kind == HealthFact.Kind.IN_FOAL else None
                answers[kind] = HealthAnswer(HealthFact.State(state), self.cleaned_data[f"{kind}_note"], covered_on)
            elif latest and not state and self.cleaned_data.get("asked_again"):
                answers[kind] = HealthAnswer(HealthFact.State(latest.state), latest.note, latest.covered_on)
        return answers


def _question_fields(health: dict[str, HealthFact]) -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {}
    for kind in HealthFact.Kind:
        latest = health.get(kind)
        choices: list[tuple[str, str]] = list(HealthFact.State.choices)
        if latest:
            choices = [("", f"As before: {latest.get_state_display().lower()}, {day(latest.asked_on)}"), *choices]
        fields[kind] = forms.ChoiceField(
            label=kind.label,
            choices=choices,
            required=False,
            initial="" if latest else HealthFact.State.NOT_ASKED,
            widget=forms.RadioSelect,
        )
        fields[f"{kind}_note"] = forms.CharField(label="Note", required=False, max_length=500)
    return fields
