"""What is to be priced: horses, prices and options, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from billing.money.call_out import CallOut
from billing.money.hire import HireRates
from billing.money.monthly import MonthlyPlan
from billing.money.packages import Package
from billing.money.portion import Discount, Portion
from billing.money.pricing import Service
from billing.money.tax import Tax
from clients.plans.cadence import DaysOff, Kind, Schedule
from clients.plans.coverage import Guideline


@dataclass(frozen=True, slots=True)
class Horse:
    """A horse of the quote and who pays for it."""

    name: str
    owner: str


@dataclass(frozen=True, slots=True)
class OtherStop:
    """Horses of `owner` that the diary already holds at this barn on a date, in the first part of the day."""

    on: date
    owner: str
    horses: int


@dataclass(frozen=True, slots=True)
class Hire:
    """A machine hired for the whole term: the owner's own sessions, and our follow-up visits.

    `machine_of` names the horse whose machine this horse shares: one rent and the same visits for all of them, with the
    follow-ups that are set with that horse. Empty for a machine of its own.
    """

    own: Schedule
    follow_ups: int = 0
    machine_of: str = ""


@dataclass(frozen=True, slots=True)
class HorsePlan:
    """What an option does for one horse: our visits, a hire, or both.

    Its schedules start `shift` days after the term does. A `monthly` plan pays for our sessions that it includes.
    """

    visits: Schedule | None = None
    hire: Hire | None = None
    monthly: MonthlyPlan | None = None
    shift: int = 0


@dataclass(frozen=True, slots=True)
class Option:
    """A row of the comparison: one plan per horse by its name, the packages each owner buys, and a discount."""

    name: str
    plans: Mapping[str, HorsePlan]
    packages: Mapping[str, tuple[Package, ...]] = field(default_factory=dict)
    discount: Discount | None = None


@dataclass(frozen=True, slots=True)
class Budget:
    """The most that may be spent, and the limits of the search for the schedule that covers most for it.

    `visits_per_week` counts the weeks from the start. Follow-ups are those of a hire.
    """

    amount: Decimal
    visits_per_week: int | None = None
    owner_minutes_per_day: int | None = None
    days_off: DaysOff = field(default_factory=DaysOff)
    on_day_off: str = "keep"
    follow_ups: int = 0


@dataclass(frozen=True, slots=True)
class PricingRequest:
    """Everything `compare` needs. `horses` and then `others` are the stated order of every split.

    `services` holds the full body and, if any spot is planned, the spot. Raises ValueError for an option that does
    not name every horse, or that hires without hire rates. `packages` are those on sale, for the search within a
    budget; the `booking_deposit` is a part of the price that is paid when an option is accepted.
    """

    currency: str
    start: date
    days: int
    services: Mapping[Kind, Service]
    horses: tuple[Horse, ...]
    options: tuple[Option, ...]
    call_out: CallOut = field(default_factory=CallOut)
    hire: HireRates | None = None
    guideline: Guideline | None = None
    tax: Tax = field(default_factory=Tax)
    others: tuple[OtherStop, ...] = ()
    budget: Budget | None = None
    packages: tuple[Package, ...] = ()
    booking_deposit: Portion | None = None

    def __post_init__(self) -> None:
        names = {horse.name for horse in self.horses}
        if not names or len(names) != len(self.horses):
            raise ValueError("each horse of a quote has a name of its own")
        for option in self.options:
            if set(option.plans) != names:
                raise ValueError(f'the option "{option.name}" does not name every horse')
            if self.hire is None and any(plan.hire is not None for plan in option.plans.values()):
                raise ValueError(f'the option "{option.name}" hires, and there are no hire prices')
            for name, plan in option.plans.items():
                if plan.hire is not None and plan.hire.machine_of and not hires_alone(option, plan.hire.machine_of):
                    raise ValueError(f'"{name}" of the option "{option.name}" shares a machine that nobody hires')


def hires_alone(option: Option, name: str) -> bool:
    """Whether the horse of that name hires a machine of its own in the option."""
    plan = option.plans.get(name)
    return plan is not None and plan.hire is not None and not plan.hire.machine_of
