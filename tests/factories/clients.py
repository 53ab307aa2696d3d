from datetime import UTC, date, datetime

import factory

from clients.animals.models import Animal, Caution, HealthFact, Ownership, Role
from clients.kit.models import Applicator, Machine
from clients.paperwork.models import Form, Wording, WordingVersion
from clients.people.models import Barn, BarnWindow, Person, VetPractice
from clients.plans.models import Goal, Guideline, GuidelinePhase, GuidelineVersion, Service


class PersonFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Person

    name = factory.Sequence(lambda n: f"Ottilie Brackwater {n}")
    phone = "555-0100"
    email = factory.Sequence(lambda n: f"ottilie{n}@brackwater.example")


class VetPracticeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = VetPractice

    name = factory.Sequence(lambda n: f"Plains Vet {n}")
    vet_name = "Dr. Ada Lindqvist"
    phone = "555-0199"


class BarnFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Barn

    name = factory.Sequence(lambda n: f"Copper Hasp Stables {n}")
    lat = 39.5
    lon = -104.72


class BarnWindowFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = BarnWindow

    barn = factory.SubFactory(BarnFactory)
    opens = "08:00"
    closes = "15:00"


class AnimalFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Animal

    name = factory.Sequence(lambda n: f"Biscuit {n}")
    barn = factory.SubFactory(BarnFactory)


class OwnershipFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Ownership

    animal = factory.SubFactory(AnimalFactory)
    person = factory.SubFactory(PersonFactory)
    numerator = 1
    denominator = 1
    since = date(2020, 1, 1)


class RoleFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Role

    animal = factory.SubFactory(AnimalFactory)
    person = factory.SubFactory(PersonFactory)
    kind = Role.Kind.AGENT
    since = date(2020, 1, 1)


class HealthFactFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = HealthFact

    animal = factory.SubFactory(AnimalFactory)
    kind = HealthFact.Kind.EPM
    state = HealthFact.State.NONE
    asked_on = date(2026, 3, 1)
    recorded_at = datetime(2026, 3, 1, 12, tzinfo=UTC)


class CautionFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Caution

    animal = factory.SubFactory(AnimalFactory)
    area = "Near hock"
    said_by = "Dr. Ada Lindqvist"
    said_on = date(2026, 2, 1)


class ServiceFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Service

    name = factory.Sequence(lambda n: f"Full body {n}")
    kind = Service.Kind.FULL
    minutes = 60
    uses_machine = True


class GuidelineFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Guideline

    name = factory.Sequence(lambda n: f"Upkeep {n}")
    goal = Goal.UPKEEP


class GuidelineVersionFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = GuidelineVersion

    guideline = factory.SubFactory(GuidelineFactory)
    number = 1
    source = "Common practice"
    made_at = datetime(2026, 1, 1, tzinfo=UTC)


class GuidelinePhaseFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = GuidelinePhase

    version = factory.SubFactory(GuidelineVersionFactory)
    position = 1
    days = 28
    full_every = 3
    spots_per_day = 1


class MachineFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Machine

    name = factory.Sequence(lambda n: f"Machine {n}")
    inspection_due = date(2030, 1, 1)


class ApplicatorFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Applicator

    name = factory.Sequence(lambda n: f"Loop {n}")
    width_cm = 40


class WordingFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Wording

    kind = Wording.Kind.CONSENT
    title = "Consent to sessions"


class WordingVersionFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = WordingVersion

    wording = factory.SubFactory(WordingFactory)
    number = 1
    text = "I agree to sessions for {horse}."
    published_on = date(2026, 1, 1)


class FormFactory(factory.django.DjangoModelFactory):
    """A form to sign; `signed=True` makes it one that is in force all through 2026 and 2027."""

    class Meta:
        model = Form

    class Params:
        signed = factory.Trait(state=Form.State.SIGNED, valid_from=date(2026, 1, 1), valid_until=date(2027, 12, 31))

    wording_version = factory.SubFactory(WordingVersionFactory)
    animal = factory.SubFactory(AnimalFactory)
    signer = factory.SubFactory(PersonFactory)
    made_at = datetime(2026, 1, 1, tzinfo=UTC)
