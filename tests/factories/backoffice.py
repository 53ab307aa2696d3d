import factory

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.business.models import Business


class UserFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = factory.Sequence(lambda n: f"First{n}")
    last_name = "Holt"
    role = Role.OWNER_MANAGER.value
    drives_rounds = True


class BusinessFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Business

    id = 1
    name = "Holt-Adair Horse Sessions"
    address = "14 Fencepost Road\nElbert County, Colorado"
    email = "hello@holt-adair.example"
    place_of_law = "Colorado"
    base_lat = 39.35
    base_lon = -104.6
