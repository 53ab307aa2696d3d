from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from clients.miles.models import Trip
from clients.miles.queries import driven_not_logged, metres_driven

FARTHEST = 2_000_000


@audit.action
def log_driven_days(*, at: datetime, by: User | None = None) -> list[Trip]:
    """Write down the driving of each finished day that is not in the log yet, along the barns worked at.

    A day with a barn that is not on the map is left for somebody to write down by hand.
    """
    business, made = the_business(), []
    for driven in driven_not_logged(local_date(at)):
        known = metres_driven(driven, business)
        if known is None:
            continue
        metres, measured = known
        names = ["Base", *(barn.name for barn in driven.barns), "base"]
        trip = Trip.objects.create(
            day=driven.day,
            driver=driven.driver,
            places=", ".join(names)[:600],
            purpose=f"Sessions with {driven.horses} horse{'' if driven.horses == 1 else 's'}",
            metres=metres,
            measured=measured,
            is_from_round=True,
            written_at=at,
            written_by=by,
        )
        audit.record("trip logged", trip, at=at, by=by, changes={"day": trip.day, "metres": metres})
        made.append(trip)
    return made


@audit.action
def write_trip(*, trip: Trip, at: datetime, by: User) -> Trip:
    """A trip by hand: an errand, a training day, a day that was not in the diary."""
    _refuse_bad(trip.day, trip.metres, local_date(at))
    trip.written_at, trip.written_by = at, by
    trip.save(force_insert=True)
    audit.record("trip written", trip, at=at, by=by, changes={"day": trip.day, "metres": trip.metres})
    return trip


@audit.action
def correct_trip(
    *, trip: Trip, places: str, purpose: str, metres: int, measured: str, why: str, at: datetime, by: User
) -> Trip:
    """A new row in place of the old one, which stays as it was written. No distance at all strikes the trip out."""
    trip = Trip.objects.select_for_update(of=("self",)).get(pk=trip.pk)
    if Trip.objects.filter(replaces=trip).exists():
        raise Refused("This trip was corrected already. Correct the newer row.")
    if not why.strip():
        raise Refused("Say why it is corrected.")
    _refuse_bad(trip.day, metres, local_date(at))
    newer = Trip.objects.create(
        day=trip.day,
        driver=trip.driver,
        places=places.strip(),
        purpose=purpose.strip(),
        metres=metres,
        measured=measured,
        is_from_round=trip.is_from_round,
        replaces=trip,
        why_changed=why.strip(),
        written_at=at,
        written_by=by,
    )
    audit.record("trip corrected", newer, at=at, by=by, changes={"was": trip.metres, "is": metres, "row": trip.pk})
    return newer


def _refuse_bad(day: date, metres: int, today: date) -> None:
    if day > today:
        raise Refused("A trip is written down when it was driven, not before.")
    if metres > FARTHEST:
        raise Refused("That is farther than anybody drives in a day. Check the distance.")
