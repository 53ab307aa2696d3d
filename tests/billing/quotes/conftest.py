import pytest

from tests.factories.clients import AnimalFactory
from tests.factories.quotes import drafted, owned


@pytest.fixture
def horse(business):
    animal = AnimalFactory(name="Tinker's Rest")
    owned(animal)
    return animal


@pytest.fixture
def person(horse):
    return horse.ownerships.get().person


@pytest.fixture
def quote(horse, owner_manager):
    return drafted([horse], owner_manager)
