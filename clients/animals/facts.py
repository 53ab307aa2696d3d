"""What is recorded about a horse as of one day, arranged for its page. Runs no query."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from clients.animals.models import Animal, Caution, HealthFact, Ownership, Role, Stay
from clients.animals.shares import say_share
from clients.people.models import Person


class PayerShare(NamedTuple):
    """Who pays which owner's part: usually the owner."""

    payer: Person
    owner: Person
    share: Fraction


class OwnerLine(NamedTuple):
    person: Person
    share: str
    pays_self: bool


@dataclass(frozen=True, slots=True)
class AnimalFacts:
    animal: Animal
    on: date
    owners: list[Ownership]
    roles: dict[str, Role]
    payers: list[PayerShare]
    health: dict[str, HealthFact]
    cautions: list[Caution]
    stays: list[Stay]

    @property
    def owner_lines(self) -> list[OwnerLine]:
        """Each owner with the share in words; the only owner of a whole horse needs no share."""
        alone = len(self.owners) == 1
        paying = {payer.owner.pk: payer.payer for payer in self.payers}
        return [
            OwnerLine(
                person=row.person,
                share="" if alone else say_share(row.share),
                pays_self=paying.get(row.person_id) == row.person,
            )
            for row in self.owners
        ]

    @property
    def payer(self) -> Person | None:
        """The one who pays in the owners' place, if somebody does."""
        others = [line.payer for line in self.payers if line.payer != line.owner]
        return others[0] if others else None

    @property
    def handler(self) -> Person | None:
        role = self.roles.get(Role.Kind.HANDLER)
        return role.person if role else None

    @property
    def agent(self) -> Person | None:
        role = self.roles.get(Role.Kind.AGENT)
        return role.person if role else None

    @property
    def is_isolated(self) -> bool:
        """Exposed or isolated: seen last that day."""
        return self.animal.isolation_on(self.on) != Animal.Isolation.CLEAN

    @property
    def recorded(self) -> list[HealthFact]:
        """What was answered with yes, in the order of the intake."""
        return self._with_state(HealthFact.State.YES)

    @property
    def clear(self) -> list[HealthFact]:
        """What was answered with none."""
        return self._with_state(HealthFact.State.NONE)

    @property
    def not_asked(self) -> list[str]:
        """The questions of the intake without an answer."""
        answered = {fact.kind for fact in (*self.recorded, *self.clear)}
        return [str(kind.label) for kind in HealthFact.Kind if kind not in answered]

    def _with_state(self, state: HealthFact.State) -> list[HealthFact]:
        return [
            self.health[kind] for kind in HealthFact.Kind if kind in self.health and self.health[kind].state == state
        ]

    @property
    def missing(self) -> list[str]:
        """What is still missing, said kindly."""
        animal = self.animal
        gaps = [
            (not self.owners, "No owner yet: nobody can sign or be billed."),
            (animal.sex == Animal.Sex.UNKNOWN, "Mare, gelding or stallion: not asked yet."),
            (animal.birth_year is None, "No birth year yet."),
            (animal.vet_practice_id is None, "No vet practice yet: “stop and call the vet” needs one."),
        ]
        return [sentence for is_missing, sentence in gaps if is_missing]
