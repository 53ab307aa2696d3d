from collections.abc import Sequence
from typing import Any

from django import forms

from backoffice.ui.forms import Form, ModelForm
from clients.plans import cadence
from clients.plans.models import Guideline, GuidelineVersion, PhaseFields, Service

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
    tolerance_days = forms.IntegerField(
        label="Days a full body may be early or late", min_value=0, max_value=30, initial=1
    )
    spot_needs_full_within = forms.IntegerField(
        label="A spot needs a full body in the days before", min_value=0, max_value=60, initial=3
    )

    class Meta:
        model = GuidelineVersion
        fields = ["source", "tolerance_days", "spot_needs_full_within", "until_vet_says"]
        widgets = {"source": forms.Textarea(attrs={"rows": 2})}
        help_texts = {"source": "Your own experience, a course, your vet: it is shown beside the guideline."}


class PhaseForm(Form):
    days = forms.IntegerField(min_value=1, max_value=730)
    full_every = forms.IntegerField(label="Full body every … days", min_value=1, max_value=365, required=False)
    spots_per_day = forms.IntegerField(
        label="Spots on the days between", min_value=0, max_value=2, required=False, initial=0
    )
    full_rule = forms.CharField(
        label="Or by a rule", max_length=200, required=False, help_text="RFC 5545, such as FREQ=WEEKLY;BYDAY=MO,TH."
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors or not data.get("days"):
            return data
        try:
            data["phase"] = cadence.Phase(
                days=data["days"],
                full_every=data.get("full_every"),
                full_rule=data.get("full_rule") or "",
                spots_per_day=data.get("spots_per_day") or 0,
            )
        except ValueError as wrong:
            raise forms.ValidationError(f"{str(wrong)[:1].upper()}{str(wrong)[1:]}.") from None
        return data


class BasePhases(forms.BaseFormSet):  # type: ignore[type-arg]
    def phases(self) -> tuple[cadence.Phase, ...]:
        """The phases of a valid set, in order; rows left empty are none."""
        return tuple(form.cleaned_data["phase"] for form in self.forms if form.cleaned_data.get("phase"))

    def clean(self) -> None:
        if not any(self.errors) and not self.phases():
            raise forms.ValidationError("Fill in at least one phase.")


PhaseFormSet: type[BasePhases] = forms.formset_factory(  # type: ignore[assignment]
    PhaseForm, formset=BasePhases, extra=2, max_num=MOST_PHASES, validate_max=True, absolute_max=MOST_PHASES
)


def phase_rows(phases: Sequence[PhaseFields]) -> list[dict[str, object]]:
    """The rows of an earlier version, to start the next one from."""
    return [
        {
            "days": phase.days,
            "full_every": phase.full_every,
            "spots_per_day": phase.spots_per_day,
            "full_rule": phase.full_rule,
        }
        for phase in phases
    ]


class ReviewForm(Form):
    next_on = forms.DateField(
        label="Next review", required=False, help_text="Leave it empty when no further review is wanted."
    )
