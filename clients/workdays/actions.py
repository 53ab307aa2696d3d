from collections.abc import Mapping
from datetime import date, datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.workdays.models import Absence, OwnBase, WorkingHours
from clients.workdays.queries import Hours, closed_days, may_change_days_of

NOT_YOURS = "Only the owner-manager writes down the days of somebody else."


@audit.action
def set_hours(*, practitioner: User, hours: Mapping[int, Hours], at: datetime, by: User) -> list[WorkingHours]:
    """The weekdays on which somebody works, in place of those before; none at all means the hours of the business."""
    _refuse_others(by, practitioner)
    if any(each.closes <= each.opens for each in hours.values()):
        raise Refused("A day ends after it begins.")
    WorkingHours.objects.filter(practitioner=practitioner).delete()
    rows = WorkingHours.objects.bulk_create(
        WorkingHours(practitioner=practitioner, weekday=weekday, opens=each.opens, closes=each.closes)
        for weekday, each in sorted(hours.items())
    )
    audit.record("working hours set", practitioner, at=at, by=by, changes={"weekdays": sorted(hours)})
    return rows


@audit.action
def note_absence(*, absence: Absence, at: datetime, by: User) -> Absence:
    """Somebody is away, or the business is closed. Visits that stand in it are not moved; the page lists them."""
    _refuse_others(by, absence.practitioner)
    if absence.until < absence.since:
        raise Refused("The last day is before the first.")
    absence.save()
    changes: dict[str, date | int | None] = {"since": absence.since, "until": absence.until}
    audit.record("absence noted", absence, at=at, by=by, changes={"who": absence.practitioner_id, **changes})
    return absence


@audit.action
def close_days(*, days: Mapping[date, str], at: datetime, by: User) -> list[Absence]:
    """The business is closed on these days, each with its name, such as a holiday. Closed ones stay as they are."""
    _refuse_others(by, None)
    closed = closed_days(min(days), max(days)) if days else set()
    return [
        note_absence(absence=Absence(since=day, until=day, note=name[:120]), at=at, by=by)
        for day, name in sorted(days.items())
        if day not in closed
    ]


@audit.action
def drop_absence(*, absence: Absence, at: datetime, by: User) -> None:
    _refuse_others(by, absence.practitioner)
    audit.record("absence dropped", absence, at=at, by=by, changes={"since": absence.since, "until": absence.until})
    absence.delete()


@audit.action
def set_own_base(*, practitioner: User, place: tuple[float, float] | None, at: datetime, by: User) -> None:
    """Where their days begin and end; without a place it is the base of the business again."""
    _refuse_others(by, practitioner)
    OwnBase.objects.filter(practitioner=practitioner).delete()
    if place is not None:
        OwnBase.objects.create(practitioner=practitioner, lat=place[0], lon=place[1])
    audit.record("own base set", practitioner, at=at, by=by, changes={"is_own": place is not None})


def _refuse_others(by: User, practitioner: User | None) -> None:
    if not may_change_days_of(by, practitioner):
        raise Refused(NOT_YOURS)
