"""What permission to work is decided from: values as they were recorded, with their dates."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from clients.animals.areas import names_same_place

STOP_AND_ASK: Mapping[str, str] = {
    "epm": "EPM, now or in the past",
    "in_foal": "In foal, or covered since",
    "dehydrated": "Dehydrated",
    "toxicity": "Systemic toxicity",
    "bleeding": "Possible internal bleeding",
    "slow_healing": "Repair that the vet wants slow",
    "injury": "Fresh injury or illness",
}
DOSE_CRITICAL = "dose_critical"
MEDICINE = "medicine"
KINDS_OF_WORK: Mapping[str, str] = {
    "full": "Full body",
    "spot": "Spot",
    "follow_up": "Follow-up of a hire",
    "training": "Training for a hire",
    "other": "Other hands-on work",
}
# These age by the practitioner's setting. The others are facts of one day, asked at every arrival: a "none" is never
# carried over.
STANDING: Mapping[str, str] = {
    "epm": STOP_AND_ASK["epm"],
    "in_foal": STOP_AND_ASK["in_foal"],
    "slow_healing": STOP_AND_ASK["slow_healing"],
    DOSE_CRITICAL: "Dose-critical medicine",
}


class State(StrEnum):
    NOT_ASKED = "not_asked"
    NONE = "none"
    YES = "yes"


class WhoSigns(StrEnum):
    """Whose consents are enough where a horse has several owners."""

    ANY = "any"
    MAJORITY = "majority"
    ALL = "all"
    MANAGING = "managing"


class Look(StrEnum):
    """The look-over on arrival: due only at the barn's door."""

    NOT_DUE = "not_due"
    MISSING = "missing"
    CLEAR = "clear"
    SEEN = "seen"


@dataclass(frozen=True, slots=True)
class Work:
    """What is to be done: the kind of service, whether a machine is used, hands-on minutes where they are known.

    `places` on the body are known once they are chosen; a full body without them is the whole body. `vet_first` names
    the plan that is followed only with the vet. `practitioner` is the account of who does it.
    """

    kind: str
    uses_machine: bool
    name: str = ""
    minutes: int | None = None
    for_hire: bool = False
    places: tuple[str, ...] = ()
    vet_first: str = ""
    practitioner: int | None = None


@dataclass(frozen=True, slots=True)
class HealthAnswer:
    """The latest answer to one question of the intake."""

    kind: str
    state: State
    asked_on: date
    recorded_by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Owner:
    pk: int
    name: str
    guardian: int | None = None
    share: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class Person:
    pk: int
    name: str


@dataclass(frozen=True, slots=True)
class Paper:
    """A form that was signed. `agent` and `cap` (a month, tax included) belong to an agent's authority only."""

    pk: int
    signer: int
    signer_name: str
    signed_on: date
    since: date
    until: date
    withdrawn_on: date | None = None
    under_age: bool = False
    by_guardian: bool = False
    sign_again: bool = False
    owners_then: frozenset[int] = frozenset()
    agent: int | None = None
    cap: Decimal | None = None

    def is_in_force(self, day: date) -> bool:
        return self.since <= day <= self.until and not self.is_withdrawn(day)

    def is_withdrawn(self, day: date) -> bool:
        return self.withdrawn_on is not None and self.withdrawn_on <= day


@dataclass(frozen=True, slots=True)
class OwnPaper:
    """A paper of the practice itself. No holder is the business as a whole; no kind of work or place means all."""

    pk: int
    kind: str
    name: str
    since: date
    until: date
    number: str = ""
    holder: int | None = None
    holder_name: str = ""
    uses_machine: bool | None = None
    place: str = ""
    follows: int | None = None
    dropped_on: date | None = None

    def is_in_force(self, day: date) -> bool:
        return self.since <= day <= self.until


@dataclass(frozen=True, slots=True)
class VetAnswer:
    """A request to a vet and the written answer (waiting, yes, conditions, no).

    No services named means all, and no places named means the whole body.
    """

    pk: int
    answer: str
    vet: str
    asked_on: date
    answered_on: date | None = None
    since: date | None = None
    until: date | None = None
    services: frozenset[str] = frozenset()
    places: tuple[str, ...] = ()
    conditions: str = ""
    max_minutes: int | None = None

    def names(self, kind: str) -> bool:
        return not self.services or kind in self.services

    def reaches(self, place: str) -> bool:
        return not self.places or any(names_same_place(place, allowed) for allowed in self.places)

    def is_in_force(self, day: date) -> bool:
        return self.since is not None and self.until is not None and self.since <= day <= self.until


@dataclass(frozen=True, slots=True)
class Law:
    """What the practitioner recorded for a place, for work with or without a machine; nothing means unknown."""

    place: str
    rule: str = "unknown"
    source: str = ""
    recorded_on: date | None = None


@dataclass(frozen=True, slots=True)
class Spending:
    """Done plus booked this month over all horses of the authority, and what this order adds; tax included."""

    so_far: Decimal
    adding: Decimal
    currency: str


@dataclass(frozen=True, slots=True)
class MachineFacts:
    name: str
    inspection_due: date | None = None
    is_on_hire: bool = False


@dataclass(frozen=True, slots=True)
class Rules:
    """The practitioner's settings, as they stood when it was decided."""

    reask_days: int = 90
    consent_notice_days: int = 14
    dose_critical_holds: bool = False
    who_signs: WhoSigns = WhoSigns.ANY
    own_paper_notice_days: int = 30


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that one decision about one horse, one service and one day looks at."""

    animal: str
    on: date
    work: Work
    law: Law
    rules: Rules = Rules()
    may_be_in_foal: bool = True
    died_on: date | None = None
    health: tuple[HealthAnswer, ...] = ()
    cautions: tuple[str, ...] = ()
    referrals: tuple[VetAnswer, ...] = ()
    stop_notes: tuple[date, ...] = ()
    owners: tuple[Owner, ...] = ()
    payers: tuple[Person, ...] = ()
    consents: tuple[Paper, ...] = ()
    authorities: tuple[Paper, ...] = ()
    releases: tuple[Paper, ...] = ()
    terms: tuple[Paper, ...] = ()
    has_terms: bool = False
    barn: str = ""
    barn_asks_release: bool = False
    isolated_at_barn: tuple[str, ...] = ()
    ordered_by: Person | None = None
    spending: Spending | None = None
    machine: MachineFacts | None = None
    own_papers: tuple[OwnPaper, ...] = ()
    look: Look = Look.NOT_DUE

    def answer(self, kind: str) -> HealthAnswer | None:
        return next((answer for answer in self.health if answer.kind == kind), None)


def as_record(facts: Facts) -> dict[str, Any]:
    """The facts as plain JSON values, to be stored with the decision and read years later as they were."""
    return {name: _plain(value) for name, value in dataclasses.asdict(facts).items()}


def _plain(value: object) -> object:
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Fraction):
        return str(value)
    return value
