"""A day that fails, by snow, illness or breakdown: its visits go to days that suit, free of charge, until undone."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from backoffice.ui.words import day as day_words
from clients.plans.queries import tolerance_of
from clients.rounds.detours import DayChoice, days_for
from clients.rounds.models import FailedDay, FreedVisit
from clients.visits.actions import cancel_visit
from clients.visits.actions.booking import refuse_taken
from clients.visits.messages import Message, names_of, told_about, whom_to_tell
from clients.visits.models import Told, Visit
from clients.visits.queries import OPEN, visits

REACH = timedelta(days=7)


@audit.action
def free_day(*, day: date, practitioner: User, cause: FailedDay.Cause, words: str, at: datetime, by: User) -> FailedDay:
    """Every open visit of the day is pencilled on the day that suits it best, or released where none is left for it.

    What is booked for other days stays. No late fee arises. Returns the day with each visit as it stood.
    """
    if day < local_date(at):
        raise Refused(f"{day_words(day)} is past. Write up visit by visit what could not be done.")
    if not words.strip():
        raise Refused("Say what owners are told.")
    open_visits = _open_visits(day, practitioner)
    if not open_visits:
        raise Refused("No visit of this day is still to be done.")
    failed = FailedDay.objects.create(
        day=day, practitioner=practitioner, cause=cause, words=words.strip(), freed_at=at, freed_by=by
    )
    business = the_business()
    for visit in open_visits:
        _free(visit, failed, new_day=day_instead(visit, business), at=at, by=by)
    audit.record("day failed", failed, at=at, by=by, changes={"day": day, "visits": len(open_visits), "cause": cause})
    return failed


def _open_visits(day: date, practitioner: User) -> list[Visit]:
    """Those of the day that nobody has begun, under lock; the fullest barns first, so that others can join them."""
    rows = visits().filter(day=day, practitioner=practitioner, status__in=OPEN, arrival__isnull=True)
    found = list(rows.select_for_update(of=("self",)).order_by("barn", "starts", "pk"))
    count = {visit.barn_id: sum(other.barn_id == visit.barn_id for other in found) for visit in found}
    return sorted(found, key=lambda visit: (-count[visit.barn_id], visit.barn_id))


def day_instead(visit: Visit, business: Business) -> date | None:
    """The day that suits best after the visit's own, before the horse's next visit; None when there is none.

    By the cadence of its plan: a day within the tolerance if there is one, else one of the next seven. Among them days
    with room come first, then those on which we are in the area, then the least extra drive.
    """
    after = Visit.objects.filter(animal=visit.animal_id, status__in=OPEN, day__gt=visit.day).order_by("day").first()
    last = visit.day + REACH
    if after is not None:
        last = min(last, after.day - timedelta(days=1))
    days = [visit.day + timedelta(days=number) for number in range(1, (last - visit.day).days + 1)]
    days = _within_tolerance(visit, days) or days
    choices = days_for(business=business, practitioner=visit.practitioner, barn=visit.barn, days=days, without=visit)
    choices = [choice for choice in choices if choice.is_possible]
    return min(choices, key=lambda choice: (_is_full(choice, visit, business), *choice.rank)).day if choices else None


def _within_tolerance(visit: Visit, days: Sequence[date]) -> list[date]:
    if visit.plan is None or visit.planned_day is None:
        return []
    planned, tolerance = visit.planned_day, tolerance_of(visit.plan)
    return [day for day in days if abs(day - planned) <= tolerance]


def _is_full(choice: DayChoice, visit: Visit, business: Business) -> bool:
    """Whether the work alone would not fit any more; the day's own round decides it exactly."""
    if choice.hours is None:
        return True
    opens, closes = choice.hours.opens, choice.hours.closes
    long = (closes.hour - opens.hour) * 60 + closes.minute - opens.minute - business.lunch_minutes
    return choice.work_minutes + visit.minutes > long


def _free(visit: Visit, failed: FailedDay, *, new_day: date | None, at: datetime, by: User) -> None:
    FreedVisit.objects.create(
        failed_day=failed,
        visit=visit,
        was_status=visit.status,
        was_starts=visit.starts,
        was_part=visit.part,
        was_confirmed=visit.is_confirmed,
        was_locked=visit.is_locked,
        new_day=new_day,
    )
    if new_day is None:
        cancel_visit(visit=visit, reason=failed.words, without_fee=True, at=at, by=by)
        return
    visit.status, visit.day, visit.starts, visit.part = Visit.Status.PENCILLED, new_day, None, 1
    visit.is_confirmed = visit.is_locked = False
    visit.save(update_fields=["status", "day", "starts", "part", "is_confirmed", "is_locked"])
    audit.record("visit freed", visit, at=at, by=by, changes={"from": failed.day, "to": new_day})


@audit.action
def put_back(*, failed_day: FailedDay, at: datetime, by: User) -> list[str]:
    """The day stands after all: each visit goes back as it stood, unless it was changed since or its place is taken.

    Returns one sentence for each visit that stays where it is.
    """
    failed = FailedDay.objects.select_for_update().get(pk=failed_day.pk)
    if failed.undone_at is not None:
        raise Refused("This day was put back already.")
    if failed.day < local_date(at):
        raise Refused(f"{day_words(failed.day)} is past.")
    left = []
    for freed in failed.freed.all():
        visit = visits().select_for_update(of=("self",)).get(pk=freed.visit_id)
        why = _why_it_stays(visit, freed, failed, on=local_date(at))
        if why:
            left.append(why)
            continue
        visit.save()
        audit.record("visit put back", visit, at=at, by=by, changes={"day": failed.day, "starts": visit.starts})
    failed.undone_at = at
    failed.save(update_fields=["undone_at"])
    audit.record("failed day undone", failed, at=at, by=by, changes={"left": len(left)})
    return left


def _why_it_stays(visit: Visit, freed: FreedVisit, failed: FailedDay, *, on: date) -> str:
    """Puts the visit back in memory; a sentence when it was changed since, or is in somebody's way."""
    if not _is_untouched(visit, freed):
        return f"{visit} was changed since and stays as it is."
    visit.status, visit.day, visit.starts = Visit.Status(freed.was_status), failed.day, freed.was_starts
    visit.part, visit.is_confirmed, visit.is_locked = freed.was_part, freed.was_confirmed, freed.was_locked
    visit.cancelled_at, visit.cancel_reason = None, ""
    if visit.status == Visit.Status.BOOKED:
        try:
            refuse_taken(visit, on=on)
        except Refused as refused:
            return f"{visit} stays where it is. {refused.sentence}"
    return ""


def _is_untouched(visit: Visit, freed: FreedVisit) -> bool:
    if freed.new_day is None:
        return visit.status == Visit.Status.CANCELLED
    return visit.status == Visit.Status.PENCILLED and visit.day == freed.new_day and visit.starts is None


def messages_of(failed: FailedDay, freed: Sequence[FreedVisit], business: Business) -> list[Message]:
    """One message a person. After the day was put back, those who were told otherwise hear that we come after all."""
    new_days = {each.visit_id: each.new_day for each in freed}
    rows = [each.visit for each in freed]
    told = told_about(rows, Told.What.FREED)
    drafted = []
    for person, theirs in whom_to_tell(rows, failed.day):
        is_told = all((person.pk, visit.pk) in told for visit in theirs)
        if failed.undone_at is None:
            text = _off(failed, theirs, new_days, business)
        elif is_told:
            text = f"We come on {day_words(failed.day)} after all, to {names_of(theirs)}. {business.name}"
        else:
            continue
        drafted.append(Message(person, theirs, text, is_told and failed.undone_at is None))
    return drafted


def _off(failed: FailedDay, theirs: Sequence[Visit], new_days: dict[int, date | None], business: Business) -> str:
    parts = [f"{failed.words}: we cannot come to {names_of(theirs)} on {day_words(failed.day)}."]
    for day in sorted({day for visit in theirs if (day := new_days[visit.pk]) is not None}):
        moved = [visit for visit in theirs if new_days[visit.pk] == day]
        for_whom = "" if len(moved) == len(theirs) else f" for {names_of(moved)}"
        parts.append(f"We propose {day_words(day)}{for_whom}.")
    released = [visit for visit in theirs if new_days[visit.pk] is None]
    if released:
        parts.append(f"For {names_of(released)} the next visit stands as planned.")
    return " ".join([*parts, "Nothing is charged. Does that suit?" if len(parts) > 1 else "", business.name])
