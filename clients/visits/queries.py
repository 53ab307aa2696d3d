from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import groupby

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery

from backoffice.access.models import User
from clients.animals.models import Animal
from clients.paperwork.facts import Work
from clients.paperwork.models import Form
from clients.paperwork.queries import work_of
from clients.people.models import Barn
from clients.plans.models import Plan, Service
from clients.plans.queries import UNFINISHED, planned_sessions, plans_of
from clients.visits.clashes import Taken, minute_of
from clients.visits.models import EarlierWork, Session, SessionArea, Visit
from clients.workdays.models import Absence
from clients.workdays.queries import absences_between

OPEN = (Visit.Status.PENCILLED, Visit.Status.BOOKED)
DONE = (Visit.Status.COMPLETED, Visit.Status.COULD_NOT_WORK)
OCCUPYING = (Visit.Status.BOOKED, Visit.Status.COMPLETED, Visit.Status.COULD_NOT_WORK)
MINUTES_BETWEEN_BARNS = 30
LONGEST_RHYTHM = timedelta(days=62)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def visits() -> QuerySet[Visit]:
    return Visit.objects.select_related(
        "animal__barn",
        "barn",
        "service",
        "practitioner",
        "machine",
        "plan__guideline_version",
        "report",
        "booking_decision",
    )


def work_of_visit(visit: Visit, places: Sequence[str] = ()) -> Work:
    """What permission is asked for. Lists load `plan__guideline_version` beside the service."""
    return work_of(
        visit.service,
        plan=visit.plan,
        minutes=visit.minutes,
        places=places,
        practitioner=visit.practitioner_id,
    )


def practitioners() -> QuerySet[User]:
    return User.objects.filter(is_active=True, drives_rounds=True).order_by("pk")


def visits_on(day: date, practitioner: User | None = None) -> QuerySet[Visit]:
    """What the diary holds on the day, without what was cancelled, in order of time."""
    found = visits().filter(day=day).exclude(status=Visit.Status.CANCELLED).order_by("part", "starts", "pk")
    return found.filter(practitioner=practitioner) if practitioner else found


def uncompleted_visits(before: date) -> QuerySet[Visit]:
    """Booked visits of days gone by that nobody has written up."""
    return visits().filter(status=Visit.Status.BOOKED, day__lt=before)


def completed_sessions() -> QuerySet[Session]:
    """Sessions of completed visits, oldest first: what the money side asks about."""
    return (
        Session.objects.filter(visit__status=Visit.Status.COMPLETED)
        .select_related("service", "visit__animal", "visit__barn", "visit__plan", "visit__practitioner")
        .order_by("visit__day", "visit__starts", "pk")
    )


def visits_of(animal: Animal) -> QuerySet[Visit]:
    return visits().filter(animal=animal)


def coming_visits(animal: Animal, on: date) -> QuerySet[Visit]:
    return visits_of(animal).filter(status__in=OPEN, day__gte=on).order_by("day", "part", "starts")


def coming_each(animals: Iterable[Animal], *, after: date) -> dict[int, Visit]:
    """Horse → its first open visit after that day; one query."""
    found = Visit.objects.filter(animal__in=list(animals), status__in=OPEN, day__gt=after)
    return {visit.animal_id: visit for visit in found.order_by("-day", "-part", "-starts")}


@dataclass(frozen=True, slots=True)
class StillToCome:
    """What is planned, booked and waiting to be signed for one horse."""

    plans: tuple[Plan, ...]
    visits: tuple[Visit, ...]
    forms: tuple[Form, ...]

    @property
    def counts(self) -> dict[str, int]:
        return {"plans": len(self.plans), "visits": len(self.visits), "forms": len(self.forms)}


def still_to_come(animal: Animal, on: date) -> StillToCome:
    """From that day on. A visit of the day itself is still to come unless somebody has looked at the horse there."""
    later = Q(day__gt=on) | Q(day=on, arrival__isnull=True)
    waiting = Form.objects.filter(animal=animal, state=Form.State.TO_SIGN)
    return StillToCome(
        plans=tuple(plans_of(animal.pk).filter(state__in=UNFINISHED)),
        visits=tuple(visits_of(animal).filter(later, status__in=OPEN).order_by("day", "part", "starts", "pk")),
        forms=tuple(waiting.select_related("wording_version__wording", "signer")),
    )


def horses_without_full_body() -> list[Animal]:
    """Living horses of which no full body is on record, by barn and name; one query."""
    full = {"service__kind": Service.Kind.FULL, "animal": OuterRef("pk")}
    done = Visit.objects.filter(status=Visit.Status.COMPLETED, **full)
    before = EarlierWork.objects.filter(**full)
    rows = Animal.objects.filter(~Exists(done), ~Exists(before), died_on__isnull=True)
    return list(rows.select_related("barn").order_by("barn__name", "name", "pk"))


def past_visits(animal: Animal, on: date) -> QuerySet[Visit]:
    """Done, not done or cancelled, newest first, with the sessions and their areas."""
    past = visits_of(animal).exclude(status__in=OPEN) | visits_of(animal).filter(status__in=OPEN, day__lt=on)
    return past.order_by("-day", "-part", "-starts").prefetch_related(_sessions())


def _sessions() -> "Prefetch[str]":
    areas = Prefetch("areas", SessionArea.objects.select_related("applicator"))
    return Prefetch("sessions", Session.objects.select_related("service").prefetch_related(areas))


def visit_with_sessions(pk: int) -> Visit | None:
    return (
        visits()
        .select_related("arrival", "start_decision", "animal__vet_practice")
        .prefetch_related(_sessions(), "photos__document")
        .filter(pk=pk)
        .first()
    )


def last_session(animal_pk: int, before: Visit | None = None) -> Session | None:
    """The newest session of the horse, with areas and applicators."""
    found = completed_sessions().filter(visit__animal=animal_pk)
    if before is not None:
        found = found.exclude(visit=before).filter(visit__day__lte=before.day)
    areas = Prefetch("areas", SessionArea.objects.select_related("applicator"))
    return found.order_by("-visit__day", "-visit__starts", "-pk").prefetch_related(areas).first()


def ease_over_time(animal: Animal) -> list[Session]:
    """The sessions whose ease was noted, the earliest first."""
    noted = Q(ease_before__isnull=False) | Q(ease_after__isnull=False)
    return list(completed_sessions().filter(noted, visit__animal=animal))


def last_sessions(animals: Sequence[int], *, before: date) -> dict[int, Session]:
    """Horse → its newest session of an earlier day, with areas; three queries whatever their number."""
    newest = completed_sessions().filter(visit__animal=OuterRef("pk"), visit__day__lt=before)
    one = Subquery(newest.order_by("-visit__day", "-visit__starts", "-pk").values("pk")[:1])
    pks = Animal.objects.filter(pk__in=animals).annotate(newest=one).values_list("newest", flat=True)
    areas = Prefetch("areas", SessionArea.objects.select_related("applicator"))
    found = completed_sessions().filter(pk__in=list(pks)).prefetch_related(areas)
    return {session.visit.animal_id: session for session in found}


def taken_on(day: date, *, besides: Visit | None = None) -> list[Taken]:
    """Every booked or done stretch of the day, whoever's it is."""
    found = visits().filter(day=day, status__in=OCCUPYING, starts__isnull=False)
    if besides is not None and besides.pk is not None:
        found = found.exclude(pk=besides.pk)
    return [as_taken(visit) for visit in found]


def as_taken(visit: Visit) -> Taken:
    starts = minute_of(visit.starts) if visit.starts else 0
    return Taken(
        starts=starts,
        ends=starts + visit.minutes,
        animal=visit.animal_id,
        barn=visit.barn_id,
        practitioner=visit.practitioner_id,
        machine=visit.machine_id,
        words=f"{visit.animal} at {visit.barn}, {_clock(starts)}–{_clock(starts + visit.minutes)}",
    )


def _clock(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"


def next_day_by_cadence(visit: Visit) -> date | None:
    """The plan's next day without a visit; without a plan, as long after this visit as it came after the one before."""
    if visit.plan is not None:
        there = set(visit.plan.visits.values_list("planned_day", flat=True))
        sessions = planned_sessions(visit.plan).sessions
        return next((each.on for each in sessions if each.on > visit.day and each.on not in there), None)
    before = (
        Visit.objects.filter(animal=visit.animal_id, status=Visit.Status.COMPLETED, day__lt=visit.day)
        .order_by("-day")
        .first()
    )
    gap = visit.day - before.day if before else None
    return visit.day + gap if gap and gap <= LONGEST_RHYTHM else None


@dataclass(frozen=True, slots=True)
class Stop:
    """One barn on one day in one part of it, by one practitioner, with its visits in order of time."""

    barn: Barn
    part: int
    practitioner: User
    visits: tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class DiaryDay:
    day: date
    areas: tuple[str, ...]
    stops: tuple[Stop, ...] = ()
    cancelled: tuple[Visit, ...] = field(default=())
    away: tuple[Absence, ...] = field(default=())

    @property
    def minutes(self) -> int:
        return sum(visit.minutes for stop in self.stops for visit in stop.visits)

    @property
    def count(self) -> int:
        return sum(len(stop.visits) for stop in self.stops)


def diary_week(start: date, practitioner: User | None = None) -> list[DiaryDay]:
    return diary(start, 7, practitioner)


def diary(start: date, days: int, practitioner: User | None = None) -> list[DiaryDay]:
    """Each day from `start` with its stops, the areas where we usually are, and who is away: three queries in all."""
    found = (
        visits().filter(day__gte=start, day__lt=start + timedelta(days=days)).order_by("day", "part", "starts", "pk")
    )
    if practitioner is not None:
        found = found.filter(practitioner=practitioner)
    by_day: dict[date, list[Visit]] = defaultdict(list)
    for visit in found:
        by_day[visit.day].append(visit)
    areas = area_days()
    absences = absences_between(start, start + timedelta(days=days - 1))
    away = [each for each in absences if practitioner is None or each.practitioner_id in (None, practitioner.pk)]
    return [
        replace(_diary_day(day, by_day[day], areas), away=tuple(each for each in away if each.holds_on(day)))
        for day in (start + timedelta(days=n) for n in range(days))
    ]


def _diary_day(day: date, found: list[Visit], areas: dict[str, tuple[str, ...]]) -> DiaryDay:
    cancelled = tuple(visit for visit in found if visit.status == Visit.Status.CANCELLED)
    kept = [visit for visit in found if visit.status != Visit.Status.CANCELLED]
    return DiaryDay(day, areas.get(WEEKDAYS[day.weekday()], ()), stops_of(kept), cancelled)


def stops_of(found: Iterable[Visit]) -> tuple[Stop, ...]:
    """Visits of one day put together into stops, the earliest first; those without a time come last in their part."""
    by_stop = sorted(found, key=lambda visit: (visit.part, visit.barn_id, visit.practitioner_id))
    stops = []
    for (part, _, _), group in groupby(by_stop, key=lambda visit: (visit.part, visit.barn_id, visit.practitioner_id)):
        there = sorted(group, key=_by_time)
        stops.append(Stop(there[0].barn, part, there[0].practitioner, tuple(there)))
    return tuple(sorted(stops, key=lambda stop: (stop.part, *_by_time(stop.visits[0]))))


def _by_time(visit: Visit) -> tuple[int, int]:
    return (minute_of(visit.starts) if visit.starts else 24 * 60, visit.pk)


def area_days() -> dict[str, tuple[str, ...]]:
    """Weekday (MO, TU…) → the areas where we usually are."""
    found: dict[str, set[str]] = defaultdict(set)
    for area, days in Barn.objects.exclude(area="").exclude(area_days="").values_list("area", "area_days"):
        for weekday in days.replace(",", " ").split():
            found[weekday.upper()].add(area)
    return {weekday: tuple(sorted(names)) for weekday, names in found.items()}


def visits_of_plan(plan: Plan) -> Sequence[Visit]:
    return list(visits().filter(plan=plan).order_by("day", "part", "starts", "pk"))
