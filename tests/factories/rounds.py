"""A practitioner's Monday: booked visits at barns around the base."""

from datetime import time

from backoffice.access.models import User
from clients.animals.models import Animal
from clients.people.models import Barn
from clients.visits.models import Visit
from tests.factories.clients import BarnFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import VisitFactory


def near_barn(**fields) -> Barn:
    """A barn some twenty minutes from the base."""
    return BarnFactory(**{"lat": 39.42, "lon": -104.65, **fields})


def booked_visit(practitioner: User, *, barn: Barn | None = None, animal: Animal | None = None, **fields) -> Visit:
    animal = animal or ready_animal(barn=barn or near_barn())
    return VisitFactory(booked=True, practitioner=practitioner, animal=animal, **{"starts": time(9), **fields})
