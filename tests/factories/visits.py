"""A practice that can work on Monday 2 March 2026: people, a machine, services, and horses whose paper is in order."""

from datetime import UTC, date, datetime, time

import factory

from clients.paperwork.models import Decision
from clients.plans.models import Service
from clients.visits.models import Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, MachineFactory, ServiceFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory, PlanPhaseFactory

MONDAY = date(2026, 3, 2)


class DecisionFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Decision

    animal = factory.SubFactory(AnimalFactory)
    door = Decision.Door.BOOKING
    for_day = MONDAY
    result = Decision.Result.READY
    decided_at = datetime(2026, 3, 1, 12, tzinfo=UTC)


class VisitFactory(factory.django.DjangoModelFactory):
    """A pencilled visit; `booked=True` gives it a time and a decision, `completed=True` a moment as well."""

    class Meta:
        model = Visit

    class Params:
        booked = factory.Trait(
            status=Visit.Status.BOOKED,
            starts=time(9, 0),
            booking_decision=factory.SubFactory(DecisionFactory, animal=factory.SelfAttribute("..animal")),
        )
        completed = factory.Trait(
            booked=True,
            status=Visit.Status.COMPLETED,
            completed_at=datetime(2026, 3, 2, 17, tzinfo=UTC),
        )

    animal = factory.SubFactory(AnimalFactory)
    barn = factory.SelfAttribute("animal.barn")
    service = factory.SubFactory(ServiceFactory)
    practitioner = factory.SubFactory(UserFactory)
    machine = factory.SubFactory(MachineFactory)
    day = MONDAY
    minutes = 60


def ready_visit(**fields) -> Visit:
    """A pencilled visit of a horse that permission to work calls ready."""
    return VisitFactory(animal=fields.pop("animal", None) or ready_animal(), **fields)


def running_plan(**fields):
    """Four weeks from Monday: a full body every third day, a spot between; the horse is ready."""
    practitioner = fields.pop("practitioner", None) or UserFactory()
    plan = PlanFactory(animal=ready_animal(), practitioner=practitioner, **fields)
    PlanPhaseFactory(plan=plan)
    return plan


def spot() -> Service:
    return ServiceFactory(kind=Service.Kind.SPOT, minutes=20)
