from collections.abc import Collection
from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from clients.people.models import Barn
from clients.visits.models import StopList
from clients.visits.stop_lists import LISTS


@audit.action
def note_list(
    *,
    kind: StopList.Kind,
    day: date,
    practitioner: User,
    barn: Barn,
    done: Collection[str],
    at: datetime,
    by: User,
) -> StopList:
    """What of the list was done at this stop; what was noted before is written over."""
    noted, _ = StopList.objects.update_or_create(
        kind=kind,
        day=day,
        practitioner=practitioner,
        barn=barn,
        defaults={"done": [key for key in LISTS[kind] if key in done], "noted_at": at},
    )
    audit.record(f"{kind.label.lower()} noted", noted, at=at, by=by, changes={"done": noted.done})
    return noted
