"""Horses whose paper is in order, and what a signer or a vet would send."""

from datetime import UTC, date, datetime

from clients.animals.models import Animal, HealthFact
from clients.paperwork.facts import STANDING
from clients.paperwork.models import Form, PlaceLaw, VetReferral, Wording
from clients.paperwork.referring import VetWord
from tests.factories.clients import (
    AnimalFactory,
    FormFactory,
    HealthFactFactory,
    OwnershipFactory,
    VetPracticeFactory,
    WordingFactory,
    WordingVersionFactory,
)

DRAWN = [[[100, 200], [300, 120], [420, 260]], [[500, 200], [700, 210]]]


def ready_animal(*, asked_on: date = date(2026, 3, 1), **fields) -> Animal:
    """A horse that permission to work calls ready through spring 2026: law free, questions asked, consent signed."""
    animal = AnimalFactory(**fields)
    make_ready(animal, asked_on=asked_on)
    return animal


def make_ready(animal: Animal, *, asked_on: date = date(2026, 3, 1)) -> Form:
    for uses_machine in (True, False):
        if not PlaceLaw.objects.filter(place="Colorado", uses_machine=uses_machine).exists():
            PlaceLaw.objects.create(
                place="Colorado",
                uses_machine=uses_machine,
                rule=PlaceLaw.Rule.FREE,
                source="Invented letter of the board",
                recorded_on=date(2026, 1, 2),
            )
    for kind in STANDING:
        HealthFactFactory(animal=animal, kind=HealthFact.Kind(kind), asked_on=asked_on)
    owner = (animal.ownerships.first() or OwnershipFactory(animal=animal)).person
    return FormFactory(animal=animal, signer=owner, wording_version=version_of(Wording.Kind.CONSENT), signed=True)


def version_of(kind: str, **fields):
    """The one version of the one wording of a kind."""
    wording = Wording.objects.filter(kind=kind).first() or WordingFactory(kind=kind, title=Wording.Kind(kind).label)
    return wording.versions.first() or WordingVersionFactory(wording=wording, **fields)


def vet_word(**changes) -> VetWord:
    fields = {
        "answer": "yes",
        "vet_name": "Dr. Ada Lindqvist",
        "registration_number": "CO-4471",
        "examined_on": date(2026, 2, 27),
        "since": date(2026, 3, 2),
        "until": date(2026, 5, 31),
    }
    return VetWord(**{**fields, **changes})


def referral_for(animal: Animal, **fields) -> VetReferral:
    """An answered yes for spring 2026, or whatever the fields say."""
    base = {
        "practice": animal.vet_practice or VetPracticeFactory(),
        "asked": "May the horse have sessions?",
        "asked_on": date(2026, 2, 1),
        "answer": VetReferral.Answer.YES,
        "answered_on": date(2026, 2, 3),
        "since": date(2026, 2, 3),
        "until": date(2026, 5, 31),
    }
    return VetReferral.objects.create(animal=animal, **{**base, **fields})


def moment(day: date, hour: int = 17) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
