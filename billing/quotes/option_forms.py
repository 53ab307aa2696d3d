"""The forms that draw an option: its name and price, the schedule of a horse, and what fits a budget."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, cast

from crispy_forms.layout import HTML, Column, Layout, Row
from django import forms

from backoffice.ui.forms import Form
from billing.packages.models import MonthlyPlan, Package
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from billing.quotes.models import Option, OptionSchedule
from billing.quotes.options import Discount, Prepaid, Schedule
from clients.plans.cadence import Phase
from clients.plans.fields import (
    DAYS_OFF_LAYOUT,
    DaysOffFields,
    RhythmFields,
    days_off_initial,
    rhythm_initial,
    rhythm_layout,
)
from clients.plans.rhythm import say_full_bodies

LATER_PHASES = (2, 3, 4)
END = HTML("</details>")
SPOTS = [("0", "none"), ("1", "one a day"), ("2", "two a day, morning and evening")]
LONGEST_NAME = 80


def _fold(summary: str, opened: str) -> HTML:
    """A folded part of the form; open while there are errors, or where it holds something."""
    opens = f"{{% if form.errors or form.{opened} %}} open{{% endif %}}"
    return HTML(f"<details class='more'{opens}><summary>{summary}</summary>")


def _days(label: str) -> forms.IntegerField:
    return forms.IntegerField(min_value=1, max_value=730, required=False, label=label)


def _every() -> forms.IntegerField:
    return forms.IntegerField(min_value=1, max_value=365, required=False, label="a full body every … days")


def _spots(label: str) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(choices=SPOTS, coerce=int, empty_value="0", initial="0", required=False, label=label)


class ScheduleForm(RhythmFields, DaysOffFields):
    """The schedule of one horse or of all: one rhythm for the term; folded, what is seldom asked for."""

    spots = _spots("Spots on the days between")
    by = forms.ChoiceField(
        choices=[
            (OptionSchedule.By.VISITS, "us, on our visits"),
            (OptionSchedule.By.HIRE, "the owner, with a hired machine"),
        ],
        initial=OptionSchedule.By.VISITS,
        label="Given by",
    )
    follow_ups = forms.IntegerField(
        min_value=0, max_value=50, initial=0, label="Our follow-up visits", help_text="Beside the training visit."
    )
    one_machine = forms.BooleanField(required=False, initial=True, label="One machine for all horses that hire")
    days = _days("The first rhythm for how many days?")
    days_2, full_every_2, spots_2 = _days("Then for days"), _every(), _spots("spots between")
    days_3, full_every_3, spots_3 = _days("Then for days"), _every(), _spots("spots between")
    days_4, full_every_4, spots_4 = _days("Then for days"), _every(), _spots("spots between")
    shift = forms.IntegerField(
        min_value=0, max_value=729, required=False, label="Begins how many days after the start of the quote?"
    )

    layout = Layout(
        rhythm_layout(),
        "spots",
        _fold("Days off", "has_days_off"),
        *DAYS_OFF_LAYOUT,
        END,
        _fold("A rhythm that changes", "has_changes"),
        "days",
        *(Row(Column(f"days_{n}"), Column(f"full_every_{n}"), Column(f"spots_{n}")) for n in LATER_PHASES),
        "shift",
        END,
        _fold("By hire", "is_hire"),
        "by",
        "follow_ups",
        "one_machine",
        END,
    )

    def __init__(self, *args: Any, term: int, several: bool, **kwargs: Any) -> None:
        self.term = term
        super().__init__(*args, **kwargs)
        if not several:
            self.fields["one_machine"].widget = forms.HiddenInput()
        self.fields["days"].help_text = f"Empty: for the whole term of {term} days."

    @property
    def has_days_off(self) -> bool:
        return any(self[name].value() for name in ("off_weekdays", "off_holidays", "off_dates"))

    @property
    def has_changes(self) -> bool:
        return any(self[name].value() for name in ("days", "days_2", "shift"))

    @property
    def is_hire(self) -> bool:
        return bool(self["by"].value() == OptionSchedule.By.HIRE)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.cleaned_data = cleaned
        if self.errors:
            return cleaned
        if not any(phase.full_every or phase.full_rule or phase.spots_per_day for phase in self.phases()):
            self.add_error("spots", "This holds no session: give full bodies, spots or both.")
        if any(cleaned[f"days_{n}"] for n in LATER_PHASES) and not cleaned["days"]:
            self.add_error("days", "Say for how many days the first rhythm lasts.")
        return cleaned

    def phases(self) -> tuple[Phase, ...]:
        asked = self.cleaned_data
        first = Phase(
            asked["days"] or self.term,
            full_every=asked["full_every"],
            full_rule=asked["full_rule"],
            spots_per_day=int(asked["spots"]),
        )
        later = (
            Phase(asked[f"days_{n}"], full_every=asked[f"full_every_{n}"], spots_per_day=int(asked[f"spots_{n}"]))
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
            days_off=self.days_off(),
            on_day_off=asked["on_day_off"],
            shift=asked["shift"] or 0,
        )


class OptionForm(Form):
    """What an option is called, and a discount; a name left empty follows from the schedule."""

    name = forms.CharField(
        max_length=LONGEST_NAME, required=False, label="Name", help_text="Left empty, it is named by what happens."
    )
    text = forms.CharField(max_length=200, required=False, label="A line beside it", help_text="The owner reads this.")
    discount_percent = forms.DecimalField(
        min_value=Decimal("0.01"), max_value=100, max_digits=5, decimal_places=2, required=False, label="Percent off"
    )
    discount_amount = forms.DecimalField(
        min_value=Decimal("0.01"), max_digits=12, decimal_places=2, required=False, label="or an amount off"
    )
    discount_reason = forms.CharField(
        max_length=120, required=False, label="Why?", help_text="The owner reads this, such as “three horses at once”."
    )

    package = forms.ModelChoiceField(Package.objects.none(), required=False, label="Each owner buys this package")
    monthly_plan = forms.ModelChoiceField(
        MonthlyPlan.objects.none(), required=False, label="Each horse has this monthly plan"
    )

    layout = Layout(
        _fold("Name", "has_name"),
        "name",
        "text",
        END,
        _fold("Package, monthly plan, discount", "has_price"),
        "package",
        "monthly_plan",
        Row(Column("discount_percent"), Column("discount_amount")),
        "discount_reason",
        END,
    )

    def __init__(self, *args: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        packages, plans = (
            cast("forms.ModelChoiceField[Any]", self.fields[name]) for name in ("package", "monthly_plan")
        )
        packages.queryset = Package.objects.filter(pk__in=[each.pk for each in packages_on_sale(on)])
        plans.queryset = MonthlyPlan.objects.filter(pk__in=[each.pk for each in monthly_plans_on_sale(on)])

    @property
    def has_name(self) -> bool:
        return bool(self["name"].value() or self["text"].value())

    @property
    def has_price(self) -> bool:
        names = ("package", "monthly_plan", "discount_percent", "discount_amount", "discount_reason")
        return any(self[name].value() for name in names)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        percent, amount = cleaned.get("discount_percent"), cleaned.get("discount_amount")
        if percent and amount:
            self.add_error("discount_amount", "A percentage or an amount: choose one of them.")
        if cleaned.get("package") and cleaned.get("monthly_plan"):
            self.add_error("monthly_plan", "A package or a monthly plan: choose one of them.")
        if (percent or amount) and not cleaned.get("discount_reason"):
            self.add_error("discount_reason", "Say why: the owner reads the reason.")
        if cleaned.get("discount_reason") and not (percent or amount) and not self.errors:
            self.add_error("discount_percent", "Write a percentage or an amount, or take the reason out.")
        return cleaned

    def discount(self) -> Discount | None:
        asked = self.cleaned_data
        if not asked["discount_reason"]:
            return None
        return Discount(asked["discount_reason"], asked["discount_percent"], asked["discount_amount"])

    def prepaid(self) -> Prepaid:
        package, plan = self.cleaned_data["package"], self.cleaned_data["monthly_plan"]
        return Prepaid(package.pk if package else None, plan.pk if plan else None)

    def named_by(self, schedules: Sequence[Schedule]) -> str:
        return str(self.cleaned_data["name"]) or name_of(schedules)


def name_of(schedules: Sequence[Schedule]) -> str:
    """A name for an option by what happens, such as "Full body every 3 days, a spot on each day between"."""
    first = schedules[0]
    if any(each != first for each in schedules[1:]):
        return "Each horse its own"
    phase = first.phases[0]
    words = [say_full_bodies(phase.full_every, phase.full_rule).removeprefix("a ")]
    if not (phase.full_every or phase.full_rule):
        words = []
    if phase.spots_per_day:
        where = "each day between" if words else "each day"
        words.append(f"{'a spot' if phase.spots_per_day == 1 else 'two spots'} on {where}")
    if len(first.phases) > 1:
        words.append("then changing")
    if first.by == OptionSchedule.By.HIRE:
        words.append("by hire")
    name = ", ".join(words)
    return f"{name[0].upper()}{name[1:]}"[:LONGEST_NAME]


def option_initial(option: Option) -> dict[str, Any]:
    values = {name: getattr(option, name) for name in OptionForm.base_fields}
    return values | {"package": option.package_id, "monthly_plan": option.monthly_plan_id}


def schedule_initial(schedule: OptionSchedule) -> dict[str, Any]:
    """What the form shows of a schedule that exists; its phases should be prefetched."""
    first, *later = schedule.phases.all()
    initial = {
        **rhythm_initial(first.full_every, first.full_rule),
        **days_off_initial(schedule.days_off, schedule.on_day_off),
        "spots": first.spots_per_day,
        "by": schedule.by,
        "follow_ups": schedule.follow_ups,
        "one_machine": schedule.by == OptionSchedule.By.VISITS or schedule.hired_with_id is not None,
        "days": first.days if later else None,
        "shift": schedule.shift or None,
    }
    for number, phase in zip(LATER_PHASES, later, strict=False):
        initial |= {
            f"days_{number}": phase.days,
            f"full_every_{number}": phase.full_every,
            f"spots_{number}": phase.spots_per_day,
        }
    return initial


class FittingForm(DaysOffFields):
    """What may be spent, and folded the limits that the search keeps."""

    amount = forms.DecimalField(min_value=0, max_digits=12, decimal_places=2, label="The most it may cost in all")
    visits_per_week = forms.IntegerField(min_value=1, max_value=14, required=False, label="Our visits a week, at most")
    owner_minutes_per_day = forms.IntegerField(
        min_value=0, max_value=600, required=False, label="The owner's minutes a day, at most"
    )

    layout = Layout(
        "amount",
        _fold("Limits", "has_limits"),
        Row(Column("visits_per_week"), Column("owner_minutes_per_day")),
        *DAYS_OFF_LAYOUT,
        END,
    )

    @property
    def has_limits(self) -> bool:
        return False


class PreferForm(Form):
    why = forms.CharField(
        max_length=300,
        label="Why would you choose it?",
        help_text="The owner reads this beside “the one I would choose”. No promise of a result.",
    )
