"""One option laid out in days: who does which session when, and which horses meet at which stop."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from billing.money.hire import follow_up_days
from billing.quotes.request import Hire, Horse, Option, PricingRequest
from clients.plans.cadence import Kind, PlannedSession, in_order, say_date, settle

# A stop is one barn on one date in one part of the day.
Stop = tuple[date, int]


@dataclass(frozen=True, slots=True)
class HorseDays:
    """The sessions of one horse in the term: by us, and by the owner with a hired machine. Both in date order.

    `machine` names the horse that the machine is hired for: this one or another one that shares it; empty without one.
    """

    horse: Horse
    ours: tuple[PlannedSession, ...]
    own: tuple[PlannedSession, ...]
    machine: str
    notices: tuple[str, ...]

    @property
    def sessions(self) -> tuple[PlannedSession, ...]:
        return (*self.ours, *self.own)

    def in_order(self) -> list[tuple[PlannedSession, str]]:
        """Every session with "us" or "owner", by date, then training, follow-up, full body, spot."""
        both = [(session, "us") for session in self.ours] + [(session, "owner") for session in self.own]
        return sorted(both, key=lambda pair: in_order(pair[0]))


@dataclass(frozen=True, slots=True)
class LaidOption:
    """An option in days: each horse in the stated order, and for each stop the places of the horses seen there."""

    option: Option
    horses: tuple[HorseDays, ...]
    stops: Mapping[Stop, Sequence[int]]


def lay_option(request: PricingRequest, option: Option) -> LaidOption:
    horses = tuple(_horse_days(request, option, horse) for horse in request.horses)
    return LaidOption(option, horses, _stops_of(horses))


def _horse_days(request: PricingRequest, option: Option, horse: Horse) -> HorseDays:
    plan = option.plans[horse.name]
    start, days = request.start + timedelta(days=plan.shift), request.days - plan.shift
    ours: tuple[PlannedSession, ...] = ()
    own: tuple[PlannedSession, ...] = ()
    notices: list[str] = []
    machine = ""
    if plan.visits is not None:
        visits = plan.visits.expand(start, days)
        ours = visits.sessions
        notices += visits.notices
    if plan.hire is not None:
        machine = plan.hire.machine_of or horse.name
        hire = option.plans[machine].hire or plan.hire
        told: list[str] = []
        ours = tuple(sorted((*_hire_visits(request, hire, told), *ours), key=in_order))
        notices += told if machine == horse.name else []
        owners = plan.hire.own.expand(start, days)
        own = owners.sessions
        notices += (f"{notice[:-1]} (by the owner)." for notice in owners.notices)
    return HorseDays(horse, ours, own, machine, tuple(notices))


def _hire_visits(request: PricingRequest, hire: Hire, notices: list[str]) -> list[PlannedSession]:
    """Training on the first day, the follow-ups, the collection on the last; days off move follow-ups only."""
    end = request.start + timedelta(days=request.days)
    follow_ups: list[PlannedSession] = []
    for on in follow_up_days(request.start, request.days, hire.follow_ups):
        if on < end:
            follow_ups.append(PlannedSession(on, Kind.FOLLOW_UP))
        else:
            notices.append(f"The follow-up visit of {say_date(on)} falls after the term and is dropped.")
    settled = settle(follow_ups, hire.own, request.start, request.days)
    notices += settled.notices
    visits = [PlannedSession(request.start, Kind.TRAINING), *settled.sessions]
    if request.hire is not None and request.hire.collection is not None:
        visits.append(PlannedSession(end - timedelta(days=1), Kind.COLLECTION))
    return visits


def _stops_of(horses: Sequence[HorseDays]) -> dict[Stop, list[int]]:
    stops: dict[Stop, list[int]] = {}
    for place, horse in enumerate(horses):
        for session in horse.ours:
            there = stops.setdefault((session.on, session.part), [])
            if not there or there[-1] != place:
                there.append(place)
    return stops


def minutes_by_day(sessions: Iterable[PlannedSession], request: PricingRequest) -> dict[date, int]:
    """Hands-on minutes of each date. Training and follow-up visits have none."""
    minutes: dict[date, int] = {}
    for session in sessions:
        service = request.services.get(session.kind)
        if service is not None:
            minutes[session.on] = minutes.get(session.on, 0) + service.minutes
    return minutes
