from datetime import date

import factory

from clients.kit.models import Hire
from tests.factories.clients import MachineFactory, PersonFactory


class HireFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Hire

    machine = factory.SubFactory(MachineFactory)
    person = factory.SubFactory(PersonFactory)
    since = date(2026, 3, 9)
    until = date(2026, 4, 5)
