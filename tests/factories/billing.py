"""Rows of the money side, and finished work to charge. Paper that is issued is made by the actions that issue it."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from fractions import Fraction

import factory

from backoffice.access.models import User
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Charge, Invoice
from billing.prices.models import CallOutRule, PersonTerms, Price, PriceList, TaxRate
from billing.quotes.models import AgreedPlan, Option, Quote
from clients.animals.models import Animal
from clients.paperwork.models import Decision
from clients.people.models import Person
from clients.plans.models import Goal, Plan, Service
from clients.visits.models import Session, Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, BarnFactory, OwnershipFactory, PersonFactory, ServiceFactory

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 22, 0, tzinfo=UTC)


class PriceListFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PriceList
        django_get_or_create = ["name"]

    name = "Standard"
    is_default = True


class PriceFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Price

    price_list = factory.SubFactory(PriceListFactory)
    service = factory.SubFactory(ServiceFactory)
    amount = Decimal("95.00")
    since = date(2026, 1, 1)


class CallOutRuleFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = CallOutRule

    amount = Decimal("30.00")
    split = CallOutRule.Split.HORSE
    since = date(2026, 1, 1)


class TaxRateFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = TaxRate

    category = "standard"
    percent = Decimal("5")
    since = date(2026, 1, 1)


class PersonTermsFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PersonTerms

    person = factory.SubFactory(PersonFactory)
    price_list = factory.SubFactory(PriceListFactory)
    since = date(2026, 1, 1)


def owned_horse(*owners: tuple[Person, str] | Person, **fields: object) -> Animal:
    """A horse whose owners have the shares named, in that order: `owned_horse((ann, "1/2"), (ben, "1/2"))`."""
    animal = AnimalFactory(**fields)
    for position, owner in enumerate(owners):
        person, share = owner if isinstance(owner, tuple) else (owner, "1")
        part = Fraction(share)
        OwnershipFactory(
            animal=animal, person=person, position=position, numerator=part.numerator, denominator=part.denominator
        )
    return animal


def visit_row(animal: Animal, service: Service, *, status: str = "completed", **fields: object) -> Visit:
    by = User.objects.filter(drives_rounds=True).first() or UserFactory()
    day = fields.setdefault("day", DAY)
    decision = Decision.objects.create(
        animal=animal, door=Decision.Door.BOOKING, for_day=day, result=Decision.Result.READY, decided_at=AT
    )
    return Visit.objects.create(
        **{
            "animal": animal,
            "barn": animal.barn,
            "service": service,
            "practitioner": by,
            "starts": time(9),
            "minutes": service.minutes,
            "status": status,
            "booking_decision": decision,
            "completed_at": AT if status == "completed" else None,
            **fields,
        }
    )


def finished_visit(animal: Animal, service: Service, **fields: object) -> Visit:
    """A completed visit with one session of its service."""
    visit = visit_row(animal, service, **fields)
    Session.objects.create(visit=visit, service=service, minutes=service.minutes)
    return visit


def priced_service(amount: str = "95.00", **fields: object) -> Service:
    service = ServiceFactory(**fields)
    PriceFactory(service=service, amount=Decimal(amount))
    return service


def agreed_plan(animal: Animal, service: Service, person: Person, by: User, **terms: object) -> Plan:
    """A running plan that a quote was accepted for."""
    plan = Plan.objects.create(
        animal=animal,
        goal=Goal.UPKEEP,
        title="Upkeep",
        full_service=service,
        start=DAY,
        days=28,
        state=Plan.State.RUNNING,
    )
    quote = Quote.objects.create(
        number=Quote.objects.count() + 14,
        state=Quote.State.ACCEPTED,
        title="Upkeep",
        person=person,
        goal=Goal.UPKEEP,
        full_service=service,
        price_list=PriceListFactory(),
        currency="USD",
        start=DAY,
        made_at=AT,
        made_by=by,
        frozen={},
    )
    option = Option.objects.create(quote=quote, position=1, name="Weekly")
    AgreedPlan.objects.create(plan=plan, quote=quote, option=option, **terms)
    return plan


def stop_of(*animals: Animal, service: Service | None = None, **fields: object) -> list[Visit]:
    """Completed visits of these horses at one barn on one day."""
    service = service or priced_service()
    barn = fields.pop("barn", None) or BarnFactory()
    return [
        finished_visit(animal, service, barn=barn, starts=time(9 + place), **fields)
        for place, animal in enumerate(animals)
    ]


def confirmed_work(payer: Person, by: User, amount: str = "95.00", **fields: object) -> list[Charge]:
    """One finished session of the payer's own horse, confirmed."""
    visit = finished_visit(owned_horse(payer), priced_service(amount), **fields)
    return confirm_charges(day=visit.day, at=AT, by=by, keys={f"session-{visit.sessions.get().pk}"})


def draft_for(payer: Person, by: User, amount: str = "95.00", **fields: object) -> Invoice:
    confirmed_work(payer, by, amount, **fields)
    (draft,) = draft_invoices(at=AT, by=by, payer=payer)
    return draft


def issued_invoice(payer: Person, by: User, amount: str = "95.00", on: date = DAY, at: datetime = AT) -> Invoice:
    return issue_invoice(invoice=draft_for(payer, by, amount), on=on, at=at, by=by)
