from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from clients.kit.models import Machine
from clients.kit.queries import free_machines, machines_in_use
from clients.plans.actions import review_day
from clients.plans.cadence import Kind, PlannedSession, say_date
from clients.plans.models import Plan, Service
from clients.plans.queries import planned_sessions
from clients.visits.actions.booking import FURTHEST_AHEAD, book_visit
from clients.visits.hours import first_free_start
from clients.visits.models import Visit
from clients.visits.queries import practitioners, visits


@audit.action
def propose_visits(*, plan: Plan, at: datetime, by: User | None) -> list[Visit]:
    """Pencil a visit for each session that the cadence gives from today on; days already there are left alone."""
    plan = Plan.objects.select_related("animal__barn", "full_service", "spot_service", "practitioner").get(pk=plan.pk)
    if plan.state not in (Plan.State.PROPOSED, Plan.State.RUNNING):
        raise Refused(
            f"Visits are proposed for a proposed or running plan; this one is {plan.get_state_display().lower()}."
        )
    there = set(plan.visits.values_list("planned_day", "part"))
    on = local_date(at)
    wanted = [
        session
        for session in planned_sessions(plan).sessions
        if session.on >= on and (session.on, session.part) not in there
    ]
    practitioner = usual_practitioner(plan)
    machine_days = MachineDays.between(plan.start, plan.last_day)
    made = Visit.objects.bulk_create(_pencilled(plan, session, practitioner, machine_days) for session in wanted)
    audit.record("visits proposed", plan, at=at, by=by, changes={"visits": [visit.pk for visit in made]})
    return made


@audit.action
def move_plan_start(*, plan: Plan, start: date, at: datetime, by: User | None) -> list[Visit]:
    """A plan that has not begun starts on another day: its pencilled visits make way for new ones.

    What is already booked, done or cancelled was agreed with somebody, so then the plan is not moved.
    """
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state not in (Plan.State.PROPOSED, Plan.State.RUNNING):
        raise Refused(f"A plan that is {plan.get_state_display().lower()} is not moved.")
    if start < local_date(at):
        raise Refused(f"{say_date(start)} is past.")
    if start > local_date(at) + FURTHEST_AHEAD:
        raise Refused(f"{say_date(start)} is more than two years ahead.")
    if plan.visits.exclude(status=Visit.Status.PENCILLED).exists():
        raise Refused("Visits of this plan are booked already: move them one by one.")
    if plan.visits.exists():
        plan.visits.all().delete()
    before = plan.start
    plan.start, plan.review_on = start, review_day(start, plan.days)
    plan.save(update_fields=["start", "review_on"])
    audit.record("plan start moved", plan, at=at, by=by, changes={"from": before, "to": start})
    return propose_visits(plan=plan, at=at, by=by)


def _pencilled(plan: Plan, session: PlannedSession, practitioner: User, machine_days: "MachineDays") -> Visit:
    service = service_for(plan, session.kind)
    return Visit(
        animal=plan.animal,
        barn=plan.animal.barn,
        plan=plan,
        service=service,
        practitioner=practitioner,
        machine=machine_days.choose(session.on, practitioner) if service.uses_machine else None,
        day=session.on,
        planned_day=session.on,
        part=session.part,
        minutes=service.minutes,
    )


def service_for(plan: Plan, kind: Kind) -> Service:
    if kind == Kind.SPOT and plan.spot_service is not None:
        return plan.spot_service
    return plan.full_service


def usual_practitioner(plan: Plan) -> User:
    """The plan's own; else who last saw the horse; else the first of those who drive rounds."""
    if plan.practitioner is not None:
        return plan.practitioner
    last = (
        Visit.objects.filter(animal=plan.animal, practitioner__in=practitioners())
        .exclude(status=Visit.Status.CANCELLED)
        .select_related("practitioner")
        .order_by("-day", "-pk")
        .first()
    )
    found = last.practitioner if last else practitioners().first()
    if found is None:
        raise Refused("Nobody here drives rounds. Mark somebody so under Settings, Team.")
    return found


@dataclass(slots=True)
class MachineDays:
    """Which machine goes with whom on which day: a practitioner keeps to one machine a day, alone if that can be."""

    rows: list[Machine]
    users: dict[tuple[date, int], set[int]] = field(default_factory=dict)

    @classmethod
    def between(cls, first: date, last: date) -> "MachineDays":
        users: dict[tuple[date, int], set[int]] = defaultdict(set)
        taken = Visit.objects.filter(day__gte=first, day__lte=last, machine__isnull=False).exclude(
            status=Visit.Status.CANCELLED
        )
        for day, machine, practitioner in taken.values_list("day", "machine_id", "practitioner_id"):
            users[day, machine or 0].add(practitioner)
        return cls(list(machines_in_use()), users)

    def choose(self, day: date, practitioner: User) -> Machine | None:
        """The practitioner's machine of that day, else one nobody has, else any that is free; None if none is."""

        def preference(machine: Machine) -> int:
            users = self.users.get((day, machine.pk), set())
            return 0 if users == {practitioner.pk} else 1 if not users else 2

        return min(free_machines(self.rows, day), key=preference, default=None)


@dataclass(frozen=True, slots=True)
class Left:
    """A visit that stays pencilled, and why."""

    visit: Visit
    reason: str


@dataclass(slots=True)
class Booked:
    booked: list[Visit] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)


@audit.action
def book_all(*, plan: Plan, at: datetime, by: User | None) -> Booked:
    """Book each pencilled visit of the plan at its first free time. What is not ready stays, with its reason."""
    result = Booked()
    waiting = visits().filter(plan=plan, status=Visit.Status.PENCILLED, day__gte=local_date(at))
    waiting = waiting.prefetch_related("barn__windows").order_by("day", "part", "pk")
    for visit in waiting:
        try:
            with transaction.atomic():
                result.booked.append(_book_at_first_free(visit, at=at, by=by))
        except Refused as refused:
            result.left.append(Left(visit, refused.sentence))
    return result


def _book_at_first_free(visit: Visit, *, at: datetime, by: User | None) -> Visit:
    if visit.service.uses_machine and visit.machine is None:
        visit.machine = MachineDays.between(visit.day, visit.day).choose(visit.day, visit.practitioner)
        visit.save(update_fields=["machine"])
    starts = first_free_start(
        day=visit.day,
        practitioner=visit.practitioner,
        barn=visit.barn,
        minutes=visit.minutes,
        machine=visit.machine,
        animal=visit.animal,
        part=visit.part,
    )
    if starts is None:
        raise Refused(f"{visit.practitioner} has no free time for it on {say_date(visit.day)}.")
    return book_visit(visit=visit, starts=starts, at=at, by=by)
