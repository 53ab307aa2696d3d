"""People as vCards (RFC 6350) for the address book of a phone: name, number, mail, address, and nothing else."""

from collections.abc import Iterable, Iterator
from typing import Any
from urllib.parse import quote
from uuid import NAMESPACE_URL, uuid5

from django.conf import settings

from clients.people.models import Person


def vcards(people: Iterable[Person]) -> bytes:
    """One card after another, lines folded and text escaped by the rules that vCard and iCalendar share."""
    from icalendar.parser import Contentline

    folded: Any = Contentline
    lines = [folded(line).to_ical() for person in people for line in _lines(person)]
    return b"".join(line + b"\r\n" for line in lines)


def _lines(person: Person) -> Iterator[str]:
    yield "BEGIN:VCARD"
    yield "VERSION:4.0"
    yield f"UID:urn:uuid:{uuid5(NAMESPACE_URL, settings.PUBLIC_ADDRESS + person.get_absolute_url())}"
    yield f"KIND:{'org' if person.kind == Person.Kind.ORGANIZATION else 'individual'}"
    yield f"FN:{_escaped(person.name)}"
    if person.phone:
        yield f"TEL;VALUE=uri:tel:{quote(person.phone, safe='+-().')}"
    if person.email:
        yield f"EMAIL:{_escaped(person.email)}"
    if person.address:
        yield f"ADR:;;{_escaped(', '.join(person.address.splitlines()))};;;;"
    yield "END:VCARD"


def _escaped(text: str) -> str:
    from icalendar.prop import vText

    return vText(text).to_ical().decode()
