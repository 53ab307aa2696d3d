"""A stop of a round is kept at its time."""

from collections.abc import Sequence
from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.visits.actions.booking import lock_visit
from clients.visits.models import Visit
from clients.visits.queries import OPEN


@audit.action
def lock_stop(*, visits: Sequence[Visit], is_locked: bool, at: datetime, by: User) -> None:
    """No plan moves the times of these visits, or any may again. Nobody was told, so moving one takes the lock off."""
    locked = [lock_visit(visit) for visit in visits if visit.status in OPEN]
    if not locked or any(visit.starts is None for visit in locked):
        raise Refused("Only a stop still to be made has a time to keep.")
    for visit in locked:
        visit.is_locked = is_locked
        visit.save(update_fields=["is_locked"])
    changes = {"visits": [visit.pk for visit in locked], "starts": locked[0].starts}
    audit.record("time kept" if is_locked else "time let go", locked[0], at=at, by=by, changes=changes)
