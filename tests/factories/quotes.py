"""Quotes at the prices of the worked table: full body 95, spot 45, call-out 30 a stop."""

from datetime import UTC, date, datetime
from decimal import Decimal

from backoffice.access.models import User
from billing.prices.models import HireRate, PriceList
from billing.quotes.actions import draft_quote, offer_quote
from billing.quotes.models import Option, Quote
from billing.quotes.options import Schedule, add_option, add_suggestion
from billing.quotes.queries import one_tap_options
from clients.animals.models import Animal
from clients.people.models import Person
from clients.plans.cadence import Phase
from clients.plans.models import Goal, Service
from tests.factories.billing import CallOutRuleFactory, PriceFactory, PriceListFactory
from tests.factories.clients import (
    GuidelinePhaseFactory,
    GuidelineVersionFactory,
    OwnershipFactory,
    PersonFactory,
    ServiceFactory,
)

START = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
DRAWN = [[[100, 200], [300, 120], [420, 260]], [[500, 200], [700, 210]]]


def worked_prices() -> tuple[PriceList, Service, Service]:
    """The price list and its two services; a call-out of 30 shared by horses; hire at 300 a week."""
    prices = PriceListFactory()
    full = Service.objects.filter(kind="full").first() or ServiceFactory(name="Full body", kind="full", minutes=60)
    spot = Service.objects.filter(kind="spot").first() or ServiceFactory(name="Spot", kind="spot", minutes=20)
    if not prices.prices.exists():
        PriceFactory(price_list=prices, service=full, amount=Decimal("95.00"))
        PriceFactory(price_list=prices, service=spot, amount=Decimal("45.00"))
        CallOutRuleFactory(amount=Decimal("30.00"), split="horse")
        HireRate.objects.create(
            day=Decimal(60), week=Decimal(300), training=Decimal(120), follow_up=Decimal(95), since=date(2026, 1, 1)
        )
    return prices, full, spot


def owned(animal: Animal, person: Person | None = None) -> Person:
    return OwnershipFactory(animal=animal, person=person or PersonFactory(name="Desmond Quarrie")).person


def drafted(horses: list[Animal], by: User, **fields: object) -> Quote:
    """A draft of 28 days from Monday 2 March 2026 by the guideline "full every third day, spots between".

    It holds what one tap may add, but for the hire."""
    prices, full, spot = worked_prices()
    version = (
        fields.pop("guideline_version", None)
        or GuidelinePhaseFactory(version=GuidelineVersionFactory(tolerance_days=1)).version
    )
    first = horses[0].ownerships.first()
    quote = Quote(
        **{
            "title": "Steady upkeep",
            "person": first.person if first else owned(horses[0]),
            "goal": Goal.UPKEEP,
            "guideline_version": version,
            "full_service": full,
            "spot_service": spot,
            "price_list": prices,
            "start": START,
            "days": 28,
            **fields,
        }
    )
    drafted = draft_quote(quote=quote, horses=horses, at=AT, by=by)
    for suggestion in one_tap_options(drafted, on=START):
        if not suggestion.is_hire:
            add_suggestion(quote=drafted, suggestion=suggestion, at=AT, by=by)
    return drafted


def offered(horses: list[Animal], by: User, **fields: object) -> tuple[Quote, str]:
    """An offered quote and the token of its private link."""
    quote = drafted(horses, by, **fields)
    token = offer_quote(quote=quote, at=AT, by=by)
    quote.refresh_from_db()
    return quote, token


def option_called(quote: Quote, name: str) -> Option:
    return quote.options.get(name=name)


def add_every(quote: Quote, days: int, by: User, name: str = "") -> Option:
    """One more option: a full body every so many days."""
    schedule = Schedule((Phase(quote.days, full_every=days),))
    return add_option(quote=quote, name=name or f"Every {days} days", text="", schedule=schedule, at=AT, by=by)
