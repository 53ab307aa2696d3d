"""Carrying out again, after a restore, the erasures that the restored database does not know."""

from collections.abc import Iterator
from datetime import datetime

from backoffice.erasing.actions import erase_person
from backoffice.erasing.replaying import missing
from backoffice.refusal import Refused
from clients.people.models import Person


def replay() -> Iterator[str]:
    """A line for each. To be run at once after a restore, before anybody works: persons are known by their number.

    Each is done as of its own moment, so that it is not done twice.
    """
    for line in missing():
        person = Person.objects.filter(pk=line["person"]).first()
        if person is None:
            yield f"Person {line['person']}: not in this database."
            continue
        try:
            erase_person(person=person, asked=line["asked"], at=datetime.fromisoformat(line["at"]), by=None)
        except Refused as refused:
            yield f"Person {line['person']}: not erased. {refused.sentence}"
        else:
            yield f"Person {line['person']}: erased again."
