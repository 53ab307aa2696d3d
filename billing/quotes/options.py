"""The options of a draft: added, drawn anew, hidden, preferred, taken out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from billing.quotes.models import Option, OptionPhase, OptionSchedule, Quote
from billing.quotes.suggestions import MOST_PHASES, Suggestion
from clients.plans.cadence import DaysOff, Phase

MOST_OPTIONS = 12
NO_DRAFT = "Only a draft can be changed. Make a new version instead."


@dataclass(frozen=True, slots=True)
class Schedule:
    """What an option does for a horse; it begins `shift` days after the quote's start."""

    phases: Sequence[Phase]
    by: str = OptionSchedule.By.VISITS
    follow_ups: int = 0
    hired_with: int | None = None
    days_off: Sequence[str] = ()
    on_day_off: str = "keep"
    shift: int = 0


@dataclass(frozen=True, slots=True)
class Discount:
    reason: str
    percent: Decimal | None = None
    amount: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Prepaid:
    """The keys of a package that each owner buys, and of a monthly plan for each horse."""

    package: int | None = None
    monthly_plan: int | None = None


# The same schedule for all horses, or one for each by the horse's key.
Schedules = Schedule | Mapping[int, Schedule]


@audit.action
def add_option(
    *,
    quote: Quote,
    name: str,
    text: str,
    schedule: Schedules,
    discount: Discount | None = None,
    prepaid: Prepaid | None = None,
    at: datetime,
    by: User,
) -> Option:
    quote = lock_draft(quote)
    if quote.options.count() >= MOST_OPTIONS:
        raise Refused(f"A quote compares at most {MOST_OPTIONS} options.")
    _check(quote, name, schedule)
    last = quote.options.order_by("-position").first()
    option = Option(quote=quote, position=last.position + 1 if last else 1, name=name, text=text)
    _reduce(option, discount)
    _prepay(option, prepaid or Prepaid())
    option.save(force_insert=True)
    _lay(option, schedule)
    audit.record("quote option added", option, at=at, by=by, changes={"quote": quote})
    return option


def add_suggestion(*, quote: Quote, suggestion: Suggestion, at: datetime, by: User) -> Option:
    """The suggested option for every horse of the quote; a hired machine serves them all."""
    horses = list(quote.horses.values_list("animal_id", flat=True))
    schedule = Schedule(
        suggestion.phases,
        by=OptionSchedule.By.HIRE if suggestion.is_hire else OptionSchedule.By.VISITS,
        follow_ups=suggestion.follow_ups,
    )
    each = {pk: replace(schedule, hired_with=horses[0]) if pk != horses[0] else schedule for pk in horses}
    prepaid = Prepaid(suggestion.package, suggestion.monthly_plan)
    return add_option(
        quote=quote, name=suggestion.name, text=suggestion.text, schedule=each, prepaid=prepaid, at=at, by=by
    )


@audit.action
def add_fitting(
    *, quote: Quote, name: str, text: str, schedule: Schedule, prepaid: Prepaid, budget: Decimal, at: datetime, by: User
) -> Option:
    """Keep the budget with the quote, and what was found to fit it as an option."""
    quote = lock_draft(quote)
    quote.budget = budget
    quote.save(update_fields=["budget"])
    return add_option(quote=quote, name=name, text=text, schedule=schedule, prepaid=prepaid, at=at, by=by)


@audit.action
def change_option(
    *,
    option: Option,
    name: str,
    text: str,
    schedule: Schedules,
    discount: Discount | None = None,
    prepaid: Prepaid | None = None,
    at: datetime,
    by: User,
) -> Option:
    quote = lock_draft(option.quote)
    _check(quote, name, schedule, besides=option)
    option.name, option.text = name, text
    _reduce(option, discount)
    _prepay(option, prepaid or Prepaid())
    option.save()
    option.schedules.all().delete()
    _lay(option, schedule)
    audit.record("quote option changed", option, at=at, by=by, changes={"quote": quote})
    return option


@audit.action
def line_up_option(*, option: Option, shifts: Mapping[int, int], at: datetime, by: User) -> Option:
    """Begin each horse's schedule so many days after the quote's start; all zero takes it back."""
    quote = lock_draft(option.quote)
    for schedule in option.schedules.all():
        schedule.shift = shifts.get(schedule.animal_id, 0)
        if schedule.shift >= quote.days:
            raise Refused("The schedule would begin after the last day.")
        schedule.save(update_fields=["shift"])
    audit.record("quote option lined up", option, at=at, by=by, changes={"shifts": sorted(shifts.values())})
    return option


@audit.action
def remove_option(*, option: Option, at: datetime, by: User) -> None:
    quote = lock_draft(option.quote)
    audit.record("quote option removed", option, at=at, by=by, changes={"quote": quote})
    option.delete()


@audit.action
def hide_option(*, option: Option, hidden: bool, at: datetime, by: User) -> Option:
    """Keep an option to yourself, or show it again. A hidden one is not preferred."""
    quote = lock_draft(option.quote)
    others = quote.options.filter(is_hidden=False).exclude(pk=option.pk)
    if hidden and not others.exists():
        raise Refused("An owner needs at least one option to choose from.")
    option.is_hidden = hidden
    option.is_preferred = option.is_preferred and not hidden
    option.save(update_fields=["is_hidden", "is_preferred"])
    audit.record("quote option hidden" if hidden else "quote option shown", option, at=at, by=by)
    return option


@audit.action
def prefer_option(*, option: Option, why: str, at: datetime, by: User) -> Option:
    """Mark it as the one that you would choose; the mark of another one goes."""
    quote = lock_draft(option.quote)
    if not why.strip():
        raise Refused("Say why you would choose it: the owner reads the reason.")
    quote.options.exclude(pk=option.pk).filter(is_preferred=True).update(is_preferred=False, preferred_why="")
    option.is_preferred, option.preferred_why, option.is_hidden = True, why.strip(), False
    option.save(update_fields=["is_preferred", "preferred_why", "is_hidden"])
    audit.record("quote option preferred", option, at=at, by=by)
    return option


@audit.action
def prefer_none(*, quote: Quote, at: datetime, by: User) -> None:
    quote = lock_draft(quote)
    quote.options.filter(is_preferred=True).update(is_preferred=False, preferred_why="")
    audit.record("quote options preferred no more", quote, at=at, by=by)


def lock_draft(quote: Quote) -> Quote:
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if quote.state != Quote.State.DRAFT:
        raise Refused(NO_DRAFT)
    return quote


def _check(quote: Quote, name: str, schedule: Schedules, besides: Option | None = None) -> None:
    same_name = quote.options.filter(name__iexact=name)
    if besides is not None:
        same_name = same_name.exclude(pk=besides.pk)
    if same_name.exists():
        raise Refused(f"This quote already has an option called “{name}”.")
    for each in [schedule] if isinstance(schedule, Schedule) else schedule.values():
        _check_schedule(quote, each)


def _check_schedule(quote: Quote, schedule: Schedule) -> None:
    if not 1 <= len(schedule.phases) <= MOST_PHASES:
        raise Refused(f"An option has from one to {MOST_PHASES} phases.")
    if quote.spot_service_id is None and any(phase.spots_per_day for phase in schedule.phases):
        raise Refused("The quote names no spot service, so an option cannot hold spots.")
    if schedule.shift >= quote.days:
        raise Refused("The schedule would begin after the last day.")
    DaysOff.of(schedule.days_off)


def _reduce(option: Option, discount: Discount | None) -> None:
    if discount is not None and not discount.reason.strip():
        raise Refused("A discount has a reason: the owner reads it.")
    option.discount_percent = discount.percent if discount else None
    option.discount_amount = discount.amount if discount else None
    option.discount_reason = discount.reason.strip() if discount else ""


def _prepay(option: Option, prepaid: Prepaid) -> None:
    if prepaid.package and prepaid.monthly_plan:
        raise Refused("A package or a monthly plan: choose one of them.")
    option.package_id, option.monthly_plan_id = prepaid.package, prepaid.monthly_plan


def _lay(option: Option, schedule: Schedules) -> None:
    for horse in option.quote.horses.all():
        its = schedule if isinstance(schedule, Schedule) else schedule[horse.animal_id]
        hires = its.by == OptionSchedule.By.HIRE
        row = OptionSchedule.objects.create(
            option=option,
            animal_id=horse.animal_id,
            by=its.by,
            follow_ups=its.follow_ups if hires else 0,
            hired_with_id=its.hired_with if hires and its.hired_with != horse.animal_id else None,
            days_off=list(its.days_off),
            on_day_off=its.on_day_off,
            shift=its.shift,
        )
        OptionPhase.objects.bulk_create(
            OptionPhase(
                schedule=row,
                position=position,
                days=phase.days,
                full_every=phase.full_every,
                full_rule=phase.full_rule,
                spots_per_day=phase.spots_per_day,
            )
            for position, phase in enumerate(its.phases, start=1)
        )
