"""Plain rows of what came from the barn."""

from datetime import UTC, datetime
from decimal import Decimal
from uuid import UUID

import factory

from clients.barnside.models import BarnEvent, HandMoney, Phone
from tests.factories.backoffice import UserFactory
from tests.factories.clients import PersonFactory
from tests.factories.visits import VisitFactory

AT = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)


class PhoneFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Phone

    person = factory.SubFactory(UserFactory)
    name = "A phone"
    first_seen = AT
    last_seen = AT


class BarnEventFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = BarnEvent

    id = factory.Sequence(lambda n: UUID(f"01900000-0000-7000-9000-{n:012x}"))
    person = factory.SubFactory(UserFactory)
    phone = factory.SubFactory(PhoneFactory, person=factory.SelfAttribute("..person"))
    kind = "money"
    visit = factory.SubFactory(VisitFactory)
    device_at = AT
    happened_at = AT
    received_at = AT


class HandMoneyFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = HandMoney

    event = factory.SubFactory(BarnEventFactory)
    visit = factory.SelfAttribute("event.visit")
    person = factory.SubFactory(PersonFactory)
    amount = Decimal("95.00")
    method = HandMoney.Method.CASH
    taken_at = AT
