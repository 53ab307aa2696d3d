import math
from collections.abc import Sequence
from typing import Any

from crispy_forms.layout import HTML, Field, Layout
from django import forms

from backoffice.ui.forms import Form, ModelForm
from clients.plans import cadence
from clients.plans.fields import RhythmFields, rhythm_initial, rhythm_layout
from clients.plans.models import (
    GOALS_NEEDING_THE_VET,
    Goal,
    Guideline,
    GuidelineVersion,
    PhaseFields,
    Service,
)

MOST_PHASES = 6


class ServiceForm(ModelForm):
    minutes = forms.IntegerField(label="Hands-on minutes", min_value=5, max_value=300)

    class Meta:
        model = Service
        fields = ["name", "kind", "minutes", "uses_machine", "is_offered"]
        labels = {
            "uses_machine": "Uses a machine",
            "is_offered": "Offered for new quotes and visits",
        }
        help_texts = {"uses_machine": "Massage, for example, does not: no settings are asked for then."}


class GuidelineForm(ModelForm):
    class Meta:
        model = Guideline
        fields = ["name", "goal"]
        help_texts = {
            "goal": "Long-standing trouble and an acute short course always need the vet and have no starting text."
        }


class VersionForm(ModelForm):
    """A version's own facts, without those that do not belong to `goal`, once that is known."""

    tolerance_days = forms.IntegerField(
        label="Days a full body may be early or late", min_value=0, max_value=30, initial=1
    )
    spot_needs_full_within = forms.IntegerField(
        label="A spot needs a full body in the days before",
        min_value=0,
        max_value=60,
        initial=3,
        help_text="Booking a spot without one asks for a reason.",
    )
    last_full_days_before = forms.IntegerField(
        label="Days from the last full body to the event",
        min_value=0,
        max_value=60,
        required=False,
        help_text="A quote for an event finds its start from this. The show’s own rule book decides.",
    )

    class Meta:
        model = GuidelineVersion
        fields = [
            "source",
            "last_full_days_before",
            "tolerance_days",
            "spot_needs_full_within",
            "asks_vet",
            "until_vet_says",
        ]
        widgets = {"source": forms.Textarea(attrs={"rows": 2})}
        labels = {
            "asks_vet": "Needs the vet before it starts",
            "until_vet_says": "Goes on until the vet says so",
        }
        help_texts = {"source": "Your own experience, a course, your vet: it is shown beside the guideline."}

    layout = Layout(
        Field("last_full_days_before", wrapper_class="only-event"),
        "source",
        HTML("<details class='more'{% if form.errors %} open{% endif %}><summary>More</summary>"),
        "tolerance_days",
        "spot_needs_full_within",
        Field("asks_vet", wrapper_class="only-without-vet"),
        "until_vet_says",
        HTML("</details>"),
    )

    def __init__(self, *args: Any, goal: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if goal and goal != Goal.EVENT:
            del self.fields["last_full_days_before"]
        if goal in GOALS_NEEDING_THE_VET:
            del self.fields["asks_vet"]
        self.helper.layout = Layout(*(part for part in self.layout.fields if self._has(part)))

    def _has(self, part: object) -> bool:
        names = part.fields if isinstance(part, Field) else [part]
        return all(not isinstance(name, str) or name in self.fields for name in names)


class PhaseForm(RhythmFields):
    days = forms.IntegerField(min_value=1, max_value=730)
    spots_per_day = forms.ChoiceField(
        choices=[("0", "none"), ("1", "one a day"), ("2", "two a day")],
        required=False,
        initial="0",
        label="Spots on the days between",
    )

    layout = Layout("days", rhythm_layout(), "spots_per_day")

    @property
    def words(self) -> str:
        """The phase that the row was opened with, in words; empty for a row not used yet."""
        return str(self.initial.get("words", ""))

    @property
    def is_filled(self) -> bool:
        return bool(self.words) or (self.is_bound and self.has_changed())

    @property
    def is_open(self) -> bool:
        return self.is_bound and bool(self.errors)

    def has_changed(self) -> bool:
        """Its place and the way of a rhythm alone do not fill a row."""
        return bool(set(self.changed_data) - {"ORDER", "rhythm"})

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            data["phase"] = cadence.Phase(
                days=data["days"],
                full_every=data["full_every"],
                full_rule=data["full_rule"],
                spots_per_day=int(data["spots_per_day"] or 0),
            )
        return data


class BasePhases(forms.BaseFormSet):  # type: ignore[type-arg]
    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        order, leave_out = form.fields["ORDER"], form.fields["DELETE"]
        order.label, leave_out.label = "Place among the phases", "Leave this phase out"
        order.error_messages["invalid"] = "Write a whole number, in figures."
        order.widget = forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"})

    def phases(self) -> tuple[cadence.Phase, ...]:
        """The phases in order, as far as they make sense; rows left empty or out are none."""
        kept = [form for form in self.forms if form.cleaned_data.get("phase") and not form.cleaned_data.get("DELETE")]
        return tuple(form.cleaned_data["phase"] for form in sorted(kept, key=_place))

    def clean(self) -> None:
        if not any(self.errors) and not self.phases():
            raise forms.ValidationError("Fill in at least one phase.")


def _place(form: forms.Form) -> float:
    place: int | None = form.cleaned_data["ORDER"]
    return math.inf if place is None else place


PhaseFormSet: type[BasePhases] = forms.formset_factory(  # type: ignore[assignment]
    PhaseForm,
    formset=BasePhases,
    extra=MOST_PHASES,
    max_num=MOST_PHASES,
    validate_max=True,
    absolute_max=MOST_PHASES,
    can_order=True,
    can_delete=True,
)


def phase_rows(phases: Sequence[PhaseFields]) -> list[dict[str, object]]:
    """The rows of phases that exist."""
    return [
        {
            "words": str(phase),
            "days": phase.days,
            "spots_per_day": str(phase.spots_per_day),
            **rhythm_initial(phase.full_every, phase.full_rule),
        }
        for phase in phases
    ]


class SpotsAloneForm(Form):
    reason = forms.CharField(
        label="Reason to go on", max_length=300, help_text="It is kept with the plan and with each spot booked for it."
    )


class StartForm(Form):
    """Another first day: said outright, or found back from an event."""

    start = forms.DateField(label="First day", required=False)
    event = forms.DateField(
        label="Or the day of an event", required=False, help_text="The last full body is set before it."
    )
    days_before = forms.IntegerField(
        label="Days from the last full body to the event", min_value=0, max_value=60, initial=2, required=False
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and bool(data.get("start")) == bool(data.get("event")):
            raise forms.ValidationError("Write the first day or the day of the event, one of them.")
        return data


class ReviewForm(Form):
    next_on = forms.DateField(
        label="Next review", required=False, help_text="Leave it empty when no further review is wanted."
    )
