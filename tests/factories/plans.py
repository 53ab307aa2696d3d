from datetime import date

import factory

from clients.plans.models import Goal, Plan, PlanPhase, Service
from tests.factories.clients import AnimalFactory, ServiceFactory


class PlanFactory(factory.django.DjangoModelFactory):
    """Four weeks from Monday 2 March 2026: a full body every third day, spots between."""

    class Meta:
        model = Plan

    animal = factory.SubFactory(AnimalFactory)
    goal = Goal.UPKEEP
    title = factory.Sequence(lambda n: f"Every third day {n}")
    full_service = factory.SubFactory(ServiceFactory)
    spot_service = factory.SubFactory(ServiceFactory, kind=Service.Kind.SPOT, minutes=20)
    start = date(2026, 3, 2)
    days = 28
    state = Plan.State.RUNNING


class PlanPhaseFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PlanPhase

    plan = factory.SubFactory(PlanFactory)
    position = 1
    days = 28
    full_every = 3
    spots_per_day = 1
