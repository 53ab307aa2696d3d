from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any, cast

from crispy_forms.layout import HTML, Column, Layout, Row
from django import forms

from backoffice.refusal import Refused
from backoffice.ui.forms import Form, ModelForm
from billing.prices.queries import price_list_of
from billing.quotes.acceptance import refuse_wrong_signer
from billing.quotes.models import Option, OptionSchedule, Quote
from billing.quotes.options import Schedule
from clients.animals.models import Animal
from clients.paperwork.strokes import read_strokes
from clients.people.models import Person
from clients.plans.cadence import Phase
from clients.plans.models import Service
from clients.plans.queries import latest_versions, offered_services
from clients.plans.recurrence import WrongRule, read_rule

WEEKDAYS = [("MO", "Mon"), ("TU", "Tue"), ("WE", "Wed"), ("TH", "Thu"), ("FR", "Fri"), ("SA", "Sat"), ("SU", "Sun")]
MORE = HTML("<details class='more'{% if form.errors %} open{% endif %}><summary>More</summary>")
END = HTML("</details>")


class PersonChoiceForm(Form):
    """Who the quote is for: the first step, since the horses follow from it."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Who is the quote for?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        owners = Person.objects.filter(ownerships__isnull=False) | Person.objects.filter(roles__isnull=False)
        self.fields["person"].queryset = owners.distinct().order_by("name")  # type: ignore[attr-defined]


class QuoteForm(ModelForm):
    horses = forms.ModelMultipleChoiceField(Animal.objects.none(), widget=forms.CheckboxSelectMultiple)

    class Meta:
        model = Quote
        fields = (
            "title",
            "horses",
            "goal",
            "guideline_version",
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
        }

    layout = Layout(
        "horses",
        "title",
        Row(Column("goal"), Column("guideline_version")),
        Row(Column("start"), Column("days")),
        MORE,
        "budget",
        Row(Column("full_service"), Column("spot_service")),
        "price_list",
        "note",
        END,
    )

    def __init__(self, *args: Any, horses: Sequence[Animal], person: Person, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
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
        return cleaned


LATER_PHASES = (2, 3, 4)


def _every(label: str) -> forms.IntegerField:
    return forms.IntegerField(min_value=1, max_value=365, required=False, label=label, help_text="Empty: none.")


def _spots() -> forms.IntegerField:
    return forms.IntegerField(
        min_value=0, max_value=2, required=False, label="Spots on the days between", help_text="0, 1 or 2 a day."
    )


def _days(label: str) -> forms.IntegerField:
    return forms.IntegerField(min_value=1, max_value=730, required=False, label=label)


class OptionForm(Form):
    """One rhythm for the whole term; under "more" it may change up to three times, have days off, or be a hire."""

    name = forms.CharField(max_length=80, label="Name of the option", help_text="Such as “Every third day”.")
    text = forms.CharField(max_length=200, required=False, label="What happens, in a few words")
    by = forms.ChoiceField(
        choices=[("visits", "We come and give the sessions"), ("hire", "The owner hires a machine")],
        initial="visits",
        widget=forms.RadioSelect,
        label="How",
    )
    full_every = _every("A full body every how many days?")
    spots = _spots()
    days_off = forms.MultipleChoiceField(
        choices=WEEKDAYS, required=False, widget=forms.CheckboxSelectMultiple, label="Days off"
    )
    on_day_off = forms.ChoiceField(
        choices=[("keep", "is given all the same"), ("next", "moves to the next working day"), ("drop", "is left out")],
        initial="keep",
        label="A session on a day off",
    )
    follow_ups = forms.IntegerField(min_value=0, max_value=50, initial=0, label="Follow-up visits of a hire")
    full_rule = forms.CharField(
        max_length=200,
        required=False,
        label="Full bodies by a calendar rule",
        help_text="An RFC 5545 rule instead of every n days, such as FREQ=MONTHLY;BYDAY=1MO.",
    )
    days = _days("This rhythm for how many days?")
    days_2, full_every_2, spots_2 = _days("Then for days"), _every("a full body every"), _spots()
    days_3, full_every_3, spots_3 = _days("Then for days"), _every("a full body every"), _spots()
    days_4, full_every_4, spots_4 = _days("Then for days"), _every("a full body every"), _spots()

    layout = Layout(
        "name",
        "text",
        "by",
        Row(Column("full_every"), Column("spots")),
        MORE,
        "days",
        *(Row(Column(f"days_{n}"), Column(f"full_every_{n}"), Column(f"spots_{n}")) for n in LATER_PHASES),
        "days_off",
        "on_day_off",
        "follow_ups",
        "full_rule",
        END,
    )

    def __init__(self, *args: Any, term: int, **kwargs: Any) -> None:
        self.term = term
        super().__init__(*args, **kwargs)
        self.fields["days"].help_text = f"Empty: for the whole term of {term} days."

    def clean_full_rule(self) -> str:
        rule: str = self.cleaned_data["full_rule"].strip()
        if rule:
            try:
                read_rule(rule)
            except WrongRule as wrong:
                raise forms.ValidationError(f"This is not a rule by days: {wrong}.") from wrong
        return rule

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        if cleaned["full_every"] and cleaned["full_rule"]:
            self.add_error("full_rule", "Every n days or a rule: choose one of them.")
        elif not any(phase.full_every or phase.full_rule or phase.spots_per_day for phase in self.phases()):
            self.add_error("full_every", "The option holds no session: give full bodies, spots or both.")
        if any(cleaned[f"days_{n}"] for n in LATER_PHASES) and not cleaned["days"]:
            self.add_error("days", "Say for how many days the first rhythm lasts.")
        return cleaned

    def phases(self) -> tuple[Phase, ...]:
        asked = self.cleaned_data
        first = Phase(
            asked["days"] or self.term,
            full_every=None if asked["full_rule"] else asked["full_every"],
            full_rule=asked["full_rule"],
            spots_per_day=asked["spots"] or 0,
        )
        later = (
            Phase(asked[f"days_{n}"], full_every=asked[f"full_every_{n}"], spots_per_day=asked[f"spots_{n}"] or 0)
            for n in LATER_PHASES
            if asked[f"days_{n}"]
        )
        return (first, *later)

    def schedule(self) -> Schedule:
        asked = self.cleaned_data
        return Schedule(
            phases=self.phases(),
            by=asked["by"],
            follow_ups=asked["follow_ups"],
            days_off=asked["days_off"],
            on_day_off=asked["on_day_off"],
        )


def option_initial(option: Option) -> dict[str, Any]:
    """What the form shows of an option that exists."""
    schedule: OptionSchedule = option.schedules.prefetch_related("phases")[0]
    first, *later = schedule.phases.all()
    initial = {
        "name": option.name,
        "text": option.text,
        "by": schedule.by,
        "days": first.days if later else None,
        "full_every": first.full_every,
        "full_rule": first.full_rule,
        "spots": first.spots_per_day,
        "days_off": schedule.days_off,
        "on_day_off": schedule.on_day_off,
        "follow_ups": schedule.follow_ups,
    }
    for number, phase in zip(LATER_PHASES, later, strict=False):
        initial |= {
            f"days_{number}": phase.days,
            f"full_every_{number}": phase.full_every,
            f"spots_{number}": phase.spots_per_day,
        }
    return initial


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
