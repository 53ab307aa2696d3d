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
from clients.paperwork.permission import Permission
from clients.people.models import Person
from clients.rounds.actions import sheet_context
from clients.rounds.models import DayRound
from clients.rounds.queries import StopToPlan, all_visits, is_out_of_date, round_of, stops_on
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
    settings = [
        Step(
            "Say where the day begins, and your hours",
            "The base and the working day are what a round is planned from.",
            reverse("backoffice:business"),
            business.base_lat is not None and business.base_lon is not None,
        ),
        Step(
            "Write down your prices",
            "Services first, then what each costs and from which day.",
            reverse("billing:prices"),
            Price.objects.exists(),
        ),
    ]
    enquiry = Step(
        "Log the first enquiry",
        "A name and a barn are enough; the page shows what is still missing.",
        reverse("clients:enquiry-new"),
        Person.objects.exists(),
    )
    steps = settings if user.may(Power.CHANGE_SETTINGS) else []
    steps = [*steps, enquiry] if user.may(Power.CHANGE_CARE) else steps
    return [] if all(step.is_done for step in steps) else steps
