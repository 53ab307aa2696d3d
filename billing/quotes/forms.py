from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any, cast

from crispy_forms.layout import HTML, Column, Layout, Row
from django import forms

from backoffice.refusal import Refused
from backoffice.ui.forms import Form, ModelForm
from billing.prices.queries import price_list_of
from billing.quotes.acceptance import refuse_wrong_signer
from billing.quotes.models import Option, Quote
from billing.quotes.suggestions import fitted
from clients.animals.models import Animal
from clients.paperwork.strokes import read_strokes
from clients.people.models import Person
from clients.people.queries import people_on_file
from clients.plans.back_planning import NoStart, plan_back
from clients.plans.cadence import Schedule
from clients.plans.models import Goal, Service
from clients.plans.queries import latest_versions, offered_services, phases_of

MORE = HTML("<details class='more'{% if form.errors %} open{% endif %}><summary>More</summary>")
END = HTML("</details>")


class PersonChoiceForm(Form):
    """Who the quote is for: the first step, since the horses follow from it."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Who is the quote for?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        owners = people_on_file().filter(ownerships__isnull=False) | people_on_file().filter(roles__isnull=False)
        self.fields["person"].queryset = owners.distinct().order_by("name")  # type: ignore[attr-defined]


class QuoteForm(ModelForm):
    horses = forms.ModelMultipleChoiceField(Animal.objects.none(), widget=forms.CheckboxSelectMultiple)
    days_before = forms.IntegerField(
        min_value=0,
        max_value=60,
        required=False,
        label="Last full body how many days before?",
        help_text="Left empty: as the guideline says.",
    )

    class Meta:
        model = Quote
        fields = (
            "title",
            "horses",
            "goal",
            "guideline_version",
            "event_on",
            "start",
            "days",
            "budget",
            "full_service",
            "spot_service",
            "price_list",
            "note",
        )
        labels = {"title": "What is it for?", "days": "For how many days?", "guideline_version": "Guideline"}
        help_texts = {
            "title": "The owner reads this, such as “Easing back to work”. No name of an illness.",
            "guideline_version": "Options are compared with it. Left open, only the costs are compared.",
            "budget": "Drawn as a line in the picture.",
            "event_on": "The start is counted back from it.",
        }

    layout = Layout(
        "horses",
        "title",
        Row(Column("goal"), Column("guideline_version")),
        Row(Column("start"), Column("days")),
        HTML("<details class='more'{% if form.errors or form.is_for_event %} open{% endif %}>"),
        HTML("<summary>Around an event</summary>"),
        Row(Column("event_on"), Column("days_before")),
        END,
        MORE,
        "budget",
        Row(Column("full_service"), Column("spot_service")),
        "price_list",
        "note",
        END,
    )

    def __init__(self, *args: Any, horses: Sequence[Animal], person: Person, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on = on
        self.fields["horses"].queryset = Animal.objects.filter(  # type: ignore[attr-defined]
            pk__in=[horse.pk for horse in horses]
        ).select_related("barn")
        self.fields["horses"].label_from_instance = lambda horse: f"{horse.name} ({horse.barn})"  # type: ignore[attr-defined]
        services = offered_services()
        self.fields["full_service"].queryset = services.filter(kind=Service.Kind.FULL)  # type: ignore[attr-defined]
        self.fields["spot_service"].queryset = services.filter(kind=Service.Kind.SPOT)  # type: ignore[attr-defined]
        self.fields["guideline_version"].queryset = latest_versions()  # type: ignore[attr-defined]
        if self.instance.pk is None:
            self._open_with(horses, person, on)
        else:
            del self.fields["horses"]
            self.helper.layout = Layout(*self.layout.fields[1:])

    def _open_with(self, horses: Sequence[Animal], person: Person, on: date) -> None:
        """One horse is ticked; services and prices are those usually meant."""
        usual = {
            "horses": [horse.pk for horse in horses] if len(horses) == 1 else [],
            "start": on + timedelta(days=7),
            "full_service": offered_services().filter(kind=Service.Kind.FULL).first(),
            "spot_service": offered_services().filter(kind=Service.Kind.SPOT).first(),
            "price_list": price_list_of(person, on),
        }
        for name, value in usual.items():
            self.initial[name] = self.initial.get(name) or value

    def clean_horses(self) -> list[Animal]:
        horses = list(self.cleaned_data["horses"])
        if len({horse.barn_id for horse in horses}) > 1:
            raise forms.ValidationError("These horses stand at different barns: make a quote for each barn.")
        return horses

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        version, goal = cleaned.get("guideline_version"), cleaned.get("goal")
        if version and goal and version.guideline.goal != goal:
            wanted = version.guideline.get_goal_display().lower()
            self.add_error("guideline_version", f"This guideline is for another goal: {wanted}.")
        elif version and not cleaned.get("spot_service") and version.phases.filter(spots_per_day__gt=0).exists():
            self.add_error("spot_service", "This guideline has spots: choose the service that is given as a spot.")
        if cleaned.get("event_on") and not self.errors and {"event_on", "days_before", "days"} & set(self.changed_data):
            self._count_back(cleaned)
        return cleaned

    @property
    def is_for_event(self) -> bool:
        return bool(self["event_on"].value() or self["goal"].value() == Goal.EVENT)

    def _count_back(self, cleaned: dict[str, Any]) -> None:
        """Set the start so that the guideline's last full body in the term lies so many days before the event."""
        version = cleaned["guideline_version"]
        if version is None:
            self.add_error("guideline_version", "Choose the guideline whose days are counted back from the event.")
            return
        before = cleaned["days_before"]
        if before is None:
            before = version.last_full_days_before or 0
        phases = fitted(phases_of(version.phases.all()), cleaned["days"])
        try:
            cleaned["start"] = plan_back(Schedule(phases), cleaned["event_on"], before, on=self.on).start
        except NoStart as wrong:
            self.add_error("event_on", str(wrong))


class AcceptForm(Form):
    """The owner's yes: one option, a name, a drawn signature."""

    option = forms.ModelChoiceField(
        Option.objects.none(), widget=forms.RadioSelect, empty_label=None, label="Which one do you choose?"
    )
    name_typed = forms.CharField(max_length=120, label="Your name, typed")
    strokes = forms.CharField(max_length=600_000, label="Signature", widget=forms.HiddenInput, required=False)
    agrees = forms.BooleanField(
        label="I have read this quote. It is a rule of thumb of the trade, not a promise, and not a substitute for "
        "veterinary care.",
        error_messages={"required": "Please tick that you have read it."},
    )

    layout = Layout("option", "agrees", "name_typed")  # the pad stands by itself in the template

    def __init__(self, *args: Any, quote: Quote, totals: Mapping[int, str], on: date, **kwargs: Any) -> None:
        """`totals` says for each option what it costs at most, in words."""
        self.quote, self.on = quote, on
        super().__init__(*args, **kwargs)
        self.helper.render_unmentioned_fields = self.helper.render_hidden_fields = False
        options = cast("forms.ModelChoiceField[Option]", self.fields["option"])
        options.queryset = quote.options.filter(pk__in=totals)
        options.label_from_instance = lambda obj: f"{obj.name}, {totals.get(obj.pk, '')}"  # type: ignore[method-assign]
        options.error_messages |= {"required": "Choose one of the options.", "invalid_choice": "Choose one of these."}

    def clean_name_typed(self) -> str:
        name: str = self.cleaned_data["name_typed"]
        try:
            refuse_wrong_signer(self.quote.person, name, self.on)
        except Refused as refused:
            raise forms.ValidationError(refused.sentence) from refused
        return name

    def clean_strokes(self) -> object:
        try:
            return read_strokes(self.cleaned_data["strokes"] or "[]")
        except ValueError as fault:
            raise forms.ValidationError(str(fault)) from None

    @property
    def drawn(self) -> str:
        """The strokes as they were sent, so that a form that comes back with errors loses no signature."""
        return str(self["strokes"].value() or "")


class DeclineForm(Form):
    reason = forms.CharField(
        max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3}), label="Would you tell us why?"
    )
