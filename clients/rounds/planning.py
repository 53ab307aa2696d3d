"""A proposal of better days for some weeks: searched beside the request, taken in whole or by line, or not at all."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta
from time import monotonic

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.later.actions import later
from backoffice.refusal import Refused
from clients.rounds.actions import NOT_PLACED
from clients.rounds.fortnight import FortnightPlan, Placed, drive_of, standing_now
from clients.rounds.models import PlanningRun, ProposedMove
from clients.rounds.planner import ITERATIONS, plan_days
from clients.rounds.vehicle_search import Effort
from clients.rounds.weeks import Weeks, weeks_of
from clients.visits.actions import move_visit
from clients.visits.models import Visit

WEEKS = (2, 3, 4)
SAYS_EVERY = 0.5
LONGEST = 60.0
State = PlanningRun.State


@audit.action
def start_planning(*, weeks: int, people: Sequence[User], at: datetime, by: User) -> PlanningRun:
    """The next weeks from tomorrow on. The search goes on beside this; the run says how far it is."""
    if weeks not in WEEKS:
        raise Refused("Two to four weeks are planned at once.")
    if not people:
        raise Refused("Choose at least one who drives rounds.")
    first, days = local_date(at) + timedelta(days=1), 7 * weeks
    found = weeks_of(first, days, people, the_business())
    if not found.visits and not found.astray:
        raise Refused("Nothing is pencilled or booked in these weeks.")
    run = PlanningRun.objects.create(first_day=first, days=days, seen_at=at, started_at=at, started_by=by)
    run.people.set(people)
    audit.record("planning started", run, at=at, by=by, changes={"first": first, "days": days})
    later(carry_out, run.pk)
    return run


def carry_out(pk: int, *, iterations: int = ITERATIONS) -> None:
    """The search itself. Whatever goes wrong is written on the run, so that no page waits for ever."""
    run = PlanningRun.objects.get(pk=pk)
    try:
        weeks = weeks_of(run.first_day, run.days, list(run.people.all()), the_business())
        watch = _Watch(run, iterations)
        plan = plan_days(weeks.request, Effort(iterations, goes_on=watch))
        _keep(run, weeks, plan, state=State.STOPPED if watch.is_stopped else State.DONE)
    except Exception:
        PlanningRun.objects.filter(pk=pk).update(state=State.FAILED, seen_at=timezone.now())
        raise


class _Watch:
    """Asked before each iteration: says now and then how far the search is, and hears whether it is to stop."""

    def __init__(self, run: PlanningRun, iterations: int) -> None:
        self.run, self.iterations = run, iterations
        self.started = self.said = monotonic()
        self.is_stopped = False

    def __call__(self, made: int) -> bool:
        now = monotonic()
        if self.is_stopped or now - self.said < SAYS_EVERY:
            return not self.is_stopped
        self.said = now
        rows = PlanningRun.objects.filter(pk=self.run.pk)
        rows.update(percent_done=min(99, 100 * made // self.iterations), seen_at=timezone.now())
        self.is_stopped = rows.filter(stop_asked=True).exists() or now - self.started > LONGEST
        return not self.is_stopped


def _keep(run: PlanningRun, weeks: Weeks, plan: FortnightPlan, *, state: State) -> None:
    standing = standing_now(weeks.request)
    run.state, run.percent_done, run.seen_at = state, 100, timezone.now()
    run.visits = len(weeks.visits) + len(weeks.astray)
    run.seconds_before, run.seconds_after = plan.drive_before, plan.drive_after
    run.metres_before = weeks.metres_of(standing)
    run.metres_after = weeks.metres_of({**standing, **plan.placed})
    left = [(weeks.visits[key], reason.sentence) for key, reason in plan.unplaced.items()]
    left += [(visit, NOT_PLACED) for visit in weeks.astray]
    run.unplaced = [{"visit": visit.pk, "name": str(visit), "why": why} for visit, why in left]
    run.save()
    lines = _lines(weeks, plan)
    ProposedMove.objects.bulk_create(
        ProposedMove(
            run=run,
            line=number,
            visit=visit,
            from_day=visit.day,
            to_day=to_day,
            seconds_saved=saved,
        )
        for number, (to_day, saved, rows) in enumerate(lines, start=1)
        for visit in rows
    )


def _lines(weeks: Weeks, plan: FortnightPlan) -> list[tuple[date, int, list[Visit]]]:
    """(new day, seconds saved by it alone, visits): what moves from one barn on one day to another, the best first."""
    standing = standing_now(weeks.request)
    groups: dict[tuple[int, int, Placed], list[str]] = defaultdict(list)
    for due in weeks.request.dues:
        where = plan.placed.get(due.key)
        if where is not None and where.day != due.stands_on:
            groups[due.place, due.stands_on, where].append(due.key)
    before = drive_of(weeks.request, standing)
    lines = []
    for (_place, _day, where), keys in groups.items():
        saved = before - drive_of(weeks.request, {**standing, **dict.fromkeys(keys, where)})
        lines.append((weeks.first + timedelta(days=where.day), saved, [weeks.visits[key] for key in keys]))
    return sorted(lines, key=lambda line: (-line[1], line[0]))


@audit.action
def stop_planning(*, run: PlanningRun, at: datetime, by: User) -> None:
    """The search ends soon and keeps the best so far."""
    run = PlanningRun.objects.select_for_update().get(pk=run.pk)
    if run.state != State.RUNNING:
        raise Refused("This search has ended already.")
    run.stop_asked = True
    run.save(update_fields=["stop_asked"])
    audit.record("planning stopped", run, at=at, by=by)


@audit.action
def accept_lines(*, run: PlanningRun, lines: Collection[int], at: datetime, by: User) -> Mapping[str, int]:
    """Move the visits of these lines. One that was booked, moved or called off since stays, with the reason on its row.

    Returns how many were accepted and how many left.
    """
    if not lines:
        raise Refused("Tick at least one line.")
    counts = {"accepted": 0, "left": 0}
    moves = run.moves.select_for_update(of=("self",)).filter(line__in=lines, state=ProposedMove.State.OPEN)
    for move in moves.select_related("visit"):
        move.why_left = _why_left(move, at=at, by=by)
        move.state = ProposedMove.State.LEFT if move.why_left else ProposedMove.State.ACCEPTED
        move.save(update_fields=["state", "why_left"])
        counts[move.state] += 1
    audit.record("proposal accepted", run, at=at, by=by, changes={"lines": sorted(lines), **counts})
    return counts


def _why_left(move: ProposedMove, *, at: datetime, by: User) -> str:
    """Moves the visit, or says why not."""
    visit = move.visit
    if visit.status != Visit.Status.PENCILLED or visit.day != move.from_day:
        return "It was booked, moved or called off since."
    try:
        move_visit(visit=visit, day=move.to_day, starts=None, at=at, by=by)
    except Refused as refused:
        return refused.sentence[:300]
    return ""
