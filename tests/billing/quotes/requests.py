"""Small pricing requests for tests: invented prices, a term of 28 days from a Monday."""

from datetime import date
from decimal import Decimal

from billing.money.call_out import CallOut, Split
from billing.money.hire import HireRates
from billing.money.pricing import Service
from billing.quotes.request import Hire, Horse, HorsePlan, Option, PricingRequest
from clients.plans.cadence import DaysOff, Kind, OnDayOff, Phase, Schedule
from clients.plans.coverage import Guideline

START = date(2026, 3, 2)
D = Decimal
THIRD_DAY = Phase(28, full_every=3)
WEEKLY = Phase(28, full_every=7)
MONTHLY = Phase(28, full_every=28)
WITH_SPOTS = Phase(28, full_every=3, spots_per_day=1)
SERVICES = {Kind.FULL: Service(60, D("95.00")), Kind.SPOT: Service(20, D("45.00"))}
HIRE = HireRates(D("60.00"), D("300.00"), D("120.00"), D("95.00"))


def visits(*phases, off=(), on_day_off=OnDayOff.KEEP, **changes):
    return HorsePlan(visits=Schedule(phases, DaysOff.of(off), on_day_off), **changes)


def hire(*phases, follow_ups=2, off=(), on_day_off=OnDayOff.KEEP, machine_of=""):
    return HorsePlan(hire=Hire(Schedule(phases, DaysOff.of(off), on_day_off), follow_ups, machine_of))


def option(name, *plans, **changes):
    return Option(name, dict(zip("ABCDEFGH", plans, strict=False)), **changes)


def request(*options, owners=("One",), **changes):
    fields = {
        "currency": "USD",
        "start": START,
        "days": 28,
        "services": SERVICES,
        "horses": tuple(Horse(name, owner) for name, owner in zip("ABCDEFGH", owners, strict=False)),
        "options": options,
        "call_out": CallOut(D("30.00"), Split.HORSE),
        "hire": HIRE,
        "guideline": Guideline((WITH_SPOTS,), tolerance_days=1),
    }
    return PricingRequest(**{**fields, **changes})
