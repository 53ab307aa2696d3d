"""The call list: horses that have been seen and have no date ahead."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from clients.people.models import Person
from clients.visits.messages import whom_to_tell
from clients.visits.models import CallLater, Visit
from clients.visits.queries import DONE, OPEN, visits

LONG_UNSEEN = timedelta(days=90)
REACHES_BACK = timedelta(days=730)


def call_list(on: date) -> QuerySet[Visit]:
    """The newest visit of each living horse that has no date ahead and is not put away, the longest ago first."""
    ahead = Visit.objects.filter(animal=OuterRef("animal"), status__in=OPEN, day__gte=on)
    later = Q(day__gt=OuterRef("day")) | Q(day=OuterRef("day"), pk__gt=OuterRef("pk"))
    newer = Visit.objects.filter(later, animal=OuterRef("animal"), status__in=DONE)
    put_away = CallLater.objects.filter(animal=OuterRef("animal"), until__gt=on)
    return (
        visits()
        .filter(status__in=DONE, day__lte=on, day__gte=on - REACHES_BACK)
        .filter(animal__died_on__isnull=True)
        .exclude(Exists(ahead))
        .exclude(Exists(newer))
        .exclude(Exists(put_away))
        .order_by("day", "pk")
    )


def to_call_soon(on: date) -> QuerySet[Visit]:
    """The call list without those long unseen."""
    return call_list(on).filter(day__gte=on - LONG_UNSEEN)


@dataclass(frozen=True, slots=True)
class Call:
    visit: Visit
    person: Person | None


@dataclass(frozen=True, slots=True)
class Calls:
    """The call list by why a horse is on it, with whom to call for each."""

    skipped: Sequence[Call]
    no_next_date: Sequence[Call]
    long_unseen: Sequence[Call]

    @property
    def groups(self) -> list[tuple[str, Sequence[Call]]]:
        named = [
            ("Skipped last time", self.skipped),
            ("No next date", self.no_next_date),
            (f"Not seen for {LONG_UNSEEN.days} days or more", self.long_unseen),
        ]
        return [(title, calls) for title, calls in named if calls]


def calls(on: date) -> Calls:
    """A fixed number of queries."""
    found = list(call_list(on))
    persons = {visit.pk: person for person, theirs in whom_to_tell(found, on) for visit in theirs}
    rows = [Call(visit, persons.get(visit.pk)) for visit in found]
    recent = [row for row in rows if row.visit.day >= on - LONG_UNSEEN]
    return Calls(
        skipped=[row for row in recent if row.visit.status == Visit.Status.COULD_NOT_WORK],
        no_next_date=[row for row in recent if row.visit.status != Visit.Status.COULD_NOT_WORK],
        long_unseen=[row for row in rows if row not in recent],
    )


def put_away(on: date) -> QuerySet[CallLater]:
    return CallLater.objects.filter(until__gt=on, animal__died_on__isnull=True).select_related("animal")
