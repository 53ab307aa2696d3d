"""What is still missing in a horse's record, said kindly; an empty list when it is complete."""

from clients.animals.models import HealthFact
from clients.animals.queries import AnimalFacts


def missing_of_animal(facts: AnimalFacts) -> list[str]:
    animal = facts.animal
    gaps = [
        (not facts.owners, "No owner yet: nobody can sign or be billed."),
        (animal.sex == animal.Sex.UNKNOWN, "Mare, gelding or stallion: not asked yet."),
        (animal.birth_year is None, "No birth year yet."),
        (animal.vet_practice_id is None, "No vet practice yet: “stop and call the vet” needs one."),
    ]
    return [sentence for is_missing, sentence in gaps if is_missing]


def not_asked(health: dict[str, HealthFact]) -> list[HealthFact.Kind]:
    """The questions of the intake that have no answer."""
    open_states = (None, HealthFact.State.NOT_ASKED)
    return [kind for kind in HealthFact.Kind if (health[kind].state if kind in health else None) in open_states]
