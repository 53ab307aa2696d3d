"""Messages to owners and handlers: drafted here, sent from the phone's own app, marked as told by hand."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from backoffice.business.models import Business
from backoffice.ui.words import clock
from backoffice.ui.words import day as day_words
from clients.animals.queries import owners_on, roles_on
from clients.people.models import Person
from clients.visits.models import Told, Visit


@dataclass(frozen=True, slots=True)
class Message:
    """What one person is told about their visits. `is_told` once somebody has marked it."""

    person: Person
    visits: tuple[Visit, ...]
    text: str
    is_told: bool = False

    @property
    def sms(self) -> str:
        """RFC 5724: the number, and the text as its body."""
        number = "".join(sign for sign in self.person.phone if sign.isdecimal() or sign == "+")
        return f"sms:{number}?body={quote(self.text)}" if number else ""

    @property
    def mailto(self) -> str:
        """RFC 6068."""
        return f"mailto:{quote(self.person.email, safe='@')}?body={quote(self.text)}" if self.person.email else ""


def whom_to_tell(visits: Sequence[Visit], on: date) -> list[tuple[Person, tuple[Visit, ...]]]:
    """Each handler, or the first owner where nobody else handles, with their visits in order; two queries."""
    animals = {visit.animal_id: visit.animal for visit in visits}.values()
    owners, roles = owners_on(animals, on), roles_on(animals, on)
    told: dict[int, tuple[Person, list[Visit]]] = {}
    for visit in visits:
        handler = roles[visit.animal_id].get("handler")
        owned = owners[visit.animal_id]
        person = handler.person if handler else owned[0].person if owned else None
        if person is not None:
            told.setdefault(person.pk, (person, []))[1].append(visit)
    return [(person, tuple(theirs)) for person, theirs in told.values()]


def names_of(theirs: Iterable[Visit]) -> str:
    """The horses of the visits: "Biscuit and Oats"."""
    names = list(dict.fromkeys(visit.animal.name for visit in theirs))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def told_about(visits: Sequence[Visit], what: Told.What, on: date | None = None) -> set[tuple[int, int]]:
    """(person, visit) of all that was told; of that day only, where one is given."""
    told = Told.objects.filter(visit__in=visits, what=what)
    if on is not None:
        told = told.filter(day=on)
    return set(told.values_list("person", "visit"))


def coming_messages(visits: Sequence[Visit], on: date, business: Business) -> list[Message]:
    """One message a person about the day's booked visits, with what to prepare in the practitioner's words."""
    timed = [visit for visit in visits if visit.status == Visit.Status.BOOKED]
    if not timed:
        return []
    told = told_about(timed, Told.What.COMING, on)
    return [
        Message(
            person=person,
            visits=theirs,
            text=" ".join([_coming_words(theirs, on), business.preparation_words, business.name]),
            is_told=all((person.pk, visit.pk) in told for visit in theirs),
        )
        for person, theirs in whom_to_tell(timed, on)
    ]


def _coming_words(theirs: Sequence[Visit], on: date) -> str:
    """Each stop with its first time: promised ones at it, others about it."""
    stops: dict[tuple[int, int], list[Visit]] = {}
    for visit in theirs:
        stops.setdefault((visit.barn_id, visit.part), []).append(visit)
    said = []
    for there in stops.values():
        word = "at" if there[0].is_confirmed else "about"
        said.append(f"to {there[0].barn} {word} {clock(there[0].starts)} for {names_of(there)}")
    return f"On {day_words(on)} we come {', and '.join(said)}."
