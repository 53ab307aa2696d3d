"""What an accepted option hires: each machine at the quoted prices, its visits pencilled once for all its horses."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from billing.money.call_out import shared
from billing.money.hire import HireRates
from billing.quotes.comparison import HorseMeasures, OptionMeasures
from billing.quotes.models import AgreedHire, AgreedHireHorse, Option
from billing.quotes.request import PricingRequest
from clients.animals.models import Animal
from clients.plans.cadence import Kind
from clients.plans.models import Service
from clients.plans.queries import offered_services
from clients.visits.actions import pencil_visit
from clients.visits.models import Visit
from clients.visits.queries import practitioners

SERVICES = {Kind.TRAINING: Service.Kind.TRAINING, Kind.FOLLOW_UP: Service.Kind.FOLLOW_UP}


def agree_hires(
    option: Option,
    animals: Mapping[str, Animal],
    request: PricingRequest,
    measures: OptionMeasures,
    *,
    at: datetime,
    by: User | None,
) -> None:
    """A hire begins on its first day that is not past, and its visits move with it; a person hands the machine out."""
    if request.hire is None:
        return
    machines: dict[str, list[HorseMeasures]] = {}
    for horse in measures.horses:
        if horse.days.machine:
            machines.setdefault(horse.days.machine, []).append(horse)
    start = max(request.start, local_date(at))
    for name, sharing in machines.items():
        hire = _agree(option, request, request.hire, start, at=at, by=by)
        AgreedHireHorse.objects.bulk_create(
            AgreedHireHorse(hire=hire, animal=animals[horse.name], position=position)
            for position, horse in enumerate(sharing, start=1)
        )
        first = next(horse for horse in sharing if horse.name == name)
        hire.visits.set(_pencil(animals[name], first, start - request.start, at=at, by=by))


def _agree(
    option: Option, request: PricingRequest, rates: HireRates, start: date, *, at: datetime, by: User | None
) -> AgreedHire:
    hire = AgreedHire.objects.create(
        quote=option.quote,
        option=option,
        start=start,
        last_day=start + timedelta(days=request.days - 1),
        split=shared(request.call_out.split),
        rent=rates.rent(request.days),
        rent_words=rates.say_rent(request.days, request.currency),
        delivery=rates.delivery,
        collection=rates.collection,
        training=rates.training,
        follow_up=rates.follow_up,
        call_out_at_most=request.call_out.amount or Decimal(0),
    )
    changes = {"quote": option.quote, "since": hire.start, "until": hire.last_day, "rent": hire.rent}
    audit.record("hire agreed", hire, at=at, by=by, changes=changes)
    return hire


def _pencil(animal: Animal, horse: HorseMeasures, later: timedelta, *, at: datetime, by: User | None) -> list[Visit]:
    """The training and the follow-ups, at the barn of the horse that the machine is hired for."""
    practitioner = practitioners().first()
    services = {service.kind: service for service in offered_services()}
    return [
        pencil_visit(
            animal=animal,
            service=services[SERVICES[session.kind]],
            practitioner=practitioner,
            day=session.on + later,
            planned_day=session.on + later,
            at=at,
            by=by,
        )
        for session in horse.days.ours
        if practitioner is not None and session.kind in SERVICES and SERVICES[session.kind] in services
    ]
