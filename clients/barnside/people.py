"""Who is around a horse on the day: whom to ring, who signs, who pays."""

from collections.abc import Mapping, Sequence

from clients.animals.facts import PayerShare
from clients.animals.models import Ownership, Role
from clients.animals.queries import owners_on, payers_for, roles_on
from clients.people.models import Person
from clients.visits.models import Visit


def people_around(visit: Visit) -> list[tuple[Person, str]]:
    """Owners, payers and whoever has a part around the horse, each once, with what they are."""
    return people_around_each([visit])[visit.animal_id]


def people_around_each(visits: Sequence[Visit]) -> dict[int, list[tuple[Person, str]]]:
    """Animal → the people around it on the day of its visit; a fixed number of queries."""
    if not visits:
        return {}
    on, animals = visits[0].day, list({visit.animal_id: visit.animal for visit in visits}.values())
    owners, roles, payers = owners_on(animals, on), roles_on(animals, on), payers_for(animals, on)
    return {pk: _around(owners[pk], roles[pk], payers[pk]) for pk in (animal.pk for animal in animals)}


def _around(
    owners: Sequence[Ownership], roles: Mapping[str, Role], payers: Sequence[PayerShare]
) -> list[tuple[Person, str]]:
    found = [(share.person, "Owner") for share in owners]
    found += [(role.person, role.get_kind_display()) for role in roles.values()]
    found += [(share.payer, "Payer") for share in payers]
    once: dict[int, tuple[Person, str]] = {}
    for person, words in found:
        once.setdefault(person.pk, (person, words))
    return list(once.values())
