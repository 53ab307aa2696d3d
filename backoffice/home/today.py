"""The left side of Today: the round, or what comes instead of it, and the first steps of a new business."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.home.queries import next_day_with_visits, others_out, whose_round
from billing.prices.models import Price
from billing.quotes.models import Quote
from clients.paperwork.models import Wording
from clients.paperwork.permission import Permission
from clients.people.models import Person
from clients.plans.models import Guideline
from clients.rounds.models import DayRound
from clients.rounds.queries import StopToPlan, all_visits, is_out_of_date, round_of, stops_on
from clients.rounds.shown import sheet_context
from clients.visits.models import Visit


@dataclass(frozen=True, slots=True)
class RoundToday:
    """The round as planned, or the stops that wait for one, or the next day with any."""

    practitioner: User | None
    others: list[User] = field(default_factory=list)
    round: DayRound | None = None
    is_out_of_date: bool = False
    waiting: tuple[StopToPlan, ...] = ()
    next_day: date | None = None
    next_stops: tuple[StopToPlan, ...] = ()

    @property
    def needs_planning(self) -> bool:
        return bool(self.waiting) or self.is_out_of_date

    @property
    def visits(self) -> list[Visit]:
        return all_visits(self.round) if self.round else []

    def shown(self, permissions: Mapping[int, Permission]) -> Mapping[str, object]:
        """What the partials of a round read."""
        return sheet_context(self.round, self.visits, permissions) if self.round else {}


def round_today(user: User, on: date) -> RoundToday:
    practitioner = whose_round(user)
    others = others_out(on, practitioner)
    if practitioner is None:
        return RoundToday(None, others)
    found = round_of(on, practitioner)
    if found is not None and (found.stops.all() or found.unplaced):
        return RoundToday(practitioner, others, found, is_out_of_date(found))
    waiting = tuple(stops_on(on, practitioner))
    if waiting:
        return RoundToday(practitioner, others, waiting=waiting)
    day = next_day_with_visits(on, practitioner)
    stops = tuple(stops_on(day, practitioner)) if day else ()
    return RoundToday(practitioner, others, next_day=day, next_stops=stops)


@dataclass(frozen=True, slots=True)
class Step:
    """One of the first things to do in a new business."""

    title: str
    sentence: str
    href: str
    is_done: bool


def first_steps(user: User) -> list[Step]:
    """What a new business does first; nothing once all is done or the diary has a visit."""
    if Visit.objects.exists():
        return []
    business = the_business()
    asked = [
        (
            Power.CHANGE_SETTINGS,
            "Write down your first prices",
            "A full body, a spot and a call-out are enough to quote.",
            "billing:prices-first",
            Price.objects.exists(),
        ),
        (
            Power.CHANGE_SETTINGS,
            "Say how often you would come",
            "Your guideline for each goal is what the options of a quote are measured by; starting texts are there.",
            "clients:guidelines",
            Guideline.objects.exists(),
        ),
        (
            Power.CHANGE_CARE,
            "Log the first enquiry",
            "A name and a barn are enough; the page shows what is still missing.",
            "clients:enquiry-new",
            Person.objects.exists(),
        ),
        (
            Power.CHANGE_MONEY,
            "Lay out the first quote",
            "Several rhythms side by side, each with its cost.",
            "billing:quote-new",
            Quote.objects.exists(),
        ),
        (
            Power.CHANGE_SETTINGS,
            "Bring the texts that people sign",
            "Consent, release, terms: your own words, or a starting text to have read.",
            "clients:wordings",
            Wording.objects.exists(),
        ),
        (
            Power.CHANGE_SETTINGS,
            "Say where your day begins",
            "The base and the working day are what a round is planned from.",
            "backoffice:business",
            business.base_lat is not None and business.base_lon is not None,
        ),
    ]
    steps = [
        Step(title, sentence, reverse(name), is_done)
        for power, title, sentence, name, is_done in asked
        if user.may(power)
    ]
    return [] if all(step.is_done for step in steps) else steps
