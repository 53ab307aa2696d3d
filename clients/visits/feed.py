"""The diary of one person as a calendar that other programs subscribe to (RFC 5545): read only, no health, no money."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Count, Max

from backoffice.access.models import User
from backoffice.audit.models import Entry
from backoffice.business.models import Business
from clients.plans.cadence import moment
from clients.visits.models import Visit
from clients.visits.queries import visits

if TYPE_CHECKING:
    from icalendar import Event

DAYS_BACK, DAYS_AHEAD = 30, 366
PRODUCT = "-//Barn-round back office//Diary//EN"
STATUS = {
    Visit.Status.PENCILLED: "TENTATIVE",
    Visit.Status.BOOKED: "CONFIRMED",
    Visit.Status.COMPLETED: "CONFIRMED",
    Visit.Status.COULD_NOT_WORK: "CONFIRMED",
    Visit.Status.CANCELLED: "CANCELLED",
}


@dataclass(frozen=True, slots=True)
class Changes:
    """How often a visit was changed and when last: its SEQUENCE and LAST-MODIFIED."""

    count: int
    last: datetime


def feed_of(practitioner: User, business: Business, *, at: datetime) -> bytes:
    """The visits of a month back and a year ahead as an iCalendar object; a fixed number of queries.

    Each keeps one UID for as long as it exists (RFC 5545 §3.8.4.7), cancelled ones among them, so that they go from the
    subscriber's calendar too. A pencilled visit without a time takes the whole day.
    """
    from icalendar import Calendar

    first, last = at.date() - timedelta(days=DAYS_BACK), at.date() + timedelta(days=DAYS_AHEAD)
    rows = list(visits().filter(practitioner=practitioner, day__gte=first, day__lte=last).order_by("day", "pk"))
    changes = _changes_of(rows)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{business.name}, {practitioner}")
    calendar.add("refresh-interval", timedelta(hours=1), parameters={"VALUE": "DURATION"})
    for visit in rows:
        calendar.add_component(_event(visit, business, changes.get(visit.pk, Changes(0, at))))
    return bytes(calendar.to_ical())


def uid_of(visit: Visit, business: Business) -> str:
    """Stable through every change of the visit, and no other business's."""
    return f"visit-{visit.pk}@{business.pk}.barn-rounds.invalid"


def _changes_of(rows: Sequence[Visit]) -> Mapping[int, Changes]:
    entries = Entry.objects.filter(target=Visit._meta.label_lower, target_pk__in=[str(visit.pk) for visit in rows])
    counted = entries.order_by().values("target_pk").annotate(count=Count("pk"), last=Max("at"))
    return {int(row["target_pk"]): Changes(row["count"] - 1, row["last"]) for row in counted}


def _event(visit: Visit, business: Business, changes: Changes) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", uid_of(visit, business))
    event.add("dtstamp", changes.last.astimezone(UTC))
    event.add("last-modified", changes.last.astimezone(UTC))
    event.add("sequence", max(0, changes.count))
    event.add("status", STATUS[Visit.Status(visit.status)])
    event.add("summary", f"{visit.animal}, {visit.service}")
    event.add("location", ", ".join(part for part in (visit.barn.name, visit.barn.address) if part))
    if visit.starts is None:
        event.add("dtstart", visit.day)
        event.add("dtend", visit.day + timedelta(days=1))
    else:
        starts = moment(visit.day, visit.starts, business.zone).astimezone(UTC)
        event.add("dtstart", starts)
        event.add("dtend", starts + timedelta(minutes=visit.minutes))
    event.add("transp", "OPAQUE" if visit.status == Visit.Status.BOOKED else "TRANSPARENT")
    return event
