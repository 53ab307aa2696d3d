"""Time and cadence: hours by week and person, and how far each plan was kept to its own sessions."""

from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction

from backoffice.ui.words import day as say_day
from billing.money.worked_hour import Hours
from billing.reports.report import Column, Kind, Report, Row, summed
from billing.reports.work import Work
from clients.plans import coverage
from clients.plans.cadence import Kind as Session
from clients.plans.cadence import PlannedSession
from clients.plans.models import Plan, Service
from clients.plans.queries import phases_of, planned_sessions, plans
from clients.visits.models import Visit

ONE_DAY = timedelta(days=1)
HOURS = (
    Column("Week"),
    Column("Who"),
    Column("Visits", Kind.COUNT, is_summed=True),
    Column("Hands-on", Kind.MINUTES, is_summed=True),
    Column("Driving", Kind.MINUTES, is_summed=True),
    Column("Set-up and desk", Kind.MINUTES, is_summed=True),
    Column("In all", Kind.MINUTES, is_drawn=True, is_summed=True),
    Column("Driven", Kind.DISTANCE, is_summed=True),
)
CADENCE = (
    Column("Horse"),
    Column("Plan"),
    Column("Full bodies", Kind.TEXT),
    Column("Spots", Kind.TEXT),
    Column("Kept", Kind.PERCENT, is_drawn=True),
    Column("Longest gap planned", Kind.COUNT),
    Column("Longest gap given", Kind.COUNT),
    Column("Off their day", Kind.COUNT, is_summed=True),
)


def hours(work: Work) -> Report:
    sums: dict[tuple[date, str], Hours] = defaultdict(Hours)
    counts: dict[tuple[date, str], int] = defaultdict(int)
    for row in work.rows:
        day = row.visit.day
        key = day - timedelta(days=day.weekday()), str(row.visit.practitioner)
        sums[key] += row.hours
        counts[key] += 1
    rows = tuple(
        Row(
            (
                f"From {say_day(monday)}",
                who,
                counts[monday, who],
                found.hands_on,
                found.driving,
                found.set_up + found.admin,
                found.minutes,
                found.metres,
            )
        )
        for (monday, who), found in sorted(sums.items())
    )
    notes = ("Driving is as the roads are reckoned; what was driven by the odometer is in the mileage log.",)
    return Report(HOURS, rows, summed(HOURS, rows), notes, nothing="No finished visit in this time.")


def cadence(since: date, until: date) -> Report:
    """Each plan that ran in the time, what it planned in it and what was given: no judgement of the horse.

    Five queries, however many plans. `until` is a day whose work is over.
    """
    found = plans().filter(state__in=(Plan.State.RUNNING, Plan.State.PAUSED, Plan.State.FINISHED, Plan.State.STOPPED))
    found = found.filter(start__lte=until).prefetch_related("guideline_version__phases").order_by("animal__name", "pk")
    running = [plan for plan in found if plan.last_day >= since]
    given = _given([plan.pk for plan in running], since, until)
    rows = tuple(row for plan in running if (row := _kept(plan, given[plan.pk], since, until)))
    notes = (
        "Kept: the minutes given that met a session of the plan, of the minutes planned; a full body meets one within "
        "the guideline’s days of grace, by work that was done. It says how the schedule was kept, nothing of benefit.",
        "A gap is the most days without a full body.",
    )
    return Report(CADENCE, rows, summed(CADENCE, rows), notes, nothing="No plan ran in this time.")


def _given(plan_pks: list[int], since: date, until: date) -> dict[int, list[Visit]]:
    found: dict[int, list[Visit]] = defaultdict(list)
    done = Visit.objects.filter(status=Visit.Status.COMPLETED, plan__in=plan_pks, day__range=(since, until))
    for visit in done.select_related("service").order_by("day", "pk"):
        found[visit.plan_id].append(visit)  # type: ignore[index]
    return found


def _kept(plan: Plan, visits: list[Visit], since: date, until: date) -> Row | None:
    first, last = max(plan.start, since), min(plan.last_day, until)
    planned = tuple(one for one in planned_sessions(plan).sessions if first <= one.on <= last)
    if not planned and not visits:
        return None
    given = tuple(PlannedSession(visit.day, kind) for visit in visits if (kind := _kind(visit.service)))
    version = plan.guideline_version
    rule = coverage.Guideline(
        phases=phases_of(plan.phases.all()),
        tolerance_days=version.tolerance_days if version else 1,
        spot_needs_full_within=version.spot_needs_full_within if version else 3,
    )
    minutes = {Session.FULL: plan.full_service.minutes}
    if plan.spot_service is not None:
        minutes[Session.SPOT] = plan.spot_service.minutes
    covered, days = coverage.cover(rule, planned, given, minutes), (last - first).days + 1
    cells = (
        str(plan.animal),
        str(plan),
        covered.full_bodies,
        covered.spots if covered.spots_planned else "none planned",
        Fraction(covered.percent) if covered.percent is not None else None,
        coverage.longest_gap(planned, first, days),
        coverage.longest_gap(given, first, days),
        sum(visit.planned_day is not None and visit.day != visit.planned_day for visit in visits),
    )
    return Row(cells, plan.get_absolute_url())


def _kind(service: Service) -> Session | None:
    return {Service.Kind.FULL: Session.FULL, Service.Kind.SPOT: Session.SPOT}.get(Service.Kind(service.kind))
