from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.refusal import Refused
from backoffice.ui.words import hours
from clients.paperwork.actions import note_decision
from clients.paperwork.models import Decision
from clients.rounds.day_round import BASE, DayPlan, PlannedStop
from clients.rounds.models import DayRound, RoundStop
from clients.rounds.queries import (
    DayToPlan,
    StopToPlan,
    all_visits,
    day_to_plan,
    is_kept,
    map_of,
    round_of,
    time_of,
)
from clients.rounds.shown import sheet_context
from clients.rounds.solver import OrderCost, order_cost, plan_day
from clients.rounds.writing import writing_context
from clients.visits.hours import say_light
from clients.visits.models import Visit
from clients.visits.queries import OPEN, taken_on

NOT_PLACED = "The barn is not on the map yet, so nothing is known about the drive. Give it its place."


def plan_round(*, day: date, practitioner: User, at: datetime, by: User) -> DayRound:
    """Order the day: the solver's plan is stored, and visits without a promised time get the time it gives them.

    The search runs before anything is locked; what changed meanwhile shows on the page as a plan out of date.
    """
    business = the_business()
    to_plan, plan = _planned(day, practitioner, business)
    return _store(day=day, practitioner=practitioner, to_plan=to_plan, plan=plan, business=business, at=at, by=by)


def order_round(*, day: date, practitioner: User, order: Sequence[str], at: datetime, by: User) -> DayRound:
    """Keep the day in this order of its stops (`StopToPlan.key`), timed by the rules of every round.

    What the order breaks, and what it drives more than the best one, is said on the round. A stop that is not named
    comes last.
    """
    business = the_business()
    to_plan = day_to_plan(day, practitioner, business)
    wanted = [key for key in dict.fromkeys(order) if key in to_plan.stops]
    wanted += [key for key in to_plan.stops if key not in wanted]
    cost = order_cost(to_plan.request, wanted)
    notices = [_named(fault, to_plan) for fault in cost.faults] + list(cost.plan.notices)
    plan = replace(cost.plan, notices=(*notices, _beside_the_best(cost)))
    own = _store(day=day, practitioner=practitioner, to_plan=to_plan, plan=plan, business=business, at=at, by=by)
    own.is_own_order = True
    own.save(update_fields=["is_own_order"])
    return own


def _named(fault: str, to_plan: DayToPlan) -> str:
    """The sentence with the names of barns in place of the keys of stops."""
    for key, stop in to_plan.stops.items():
        fault = fault.replace(key, stop.barn.name)
    return fault


def _beside_the_best(cost: OrderCost) -> str:
    saved = cost.drive_seconds_saved
    if saved is None:
        return "This is your own order; in the best one not every stop fits."
    if saved < 60:
        return "This is your own order; no other drives less."
    return f"This is your own order; the best one drives {hours(round(saved / 60))} less."


def _planned(day: date, practitioner: User, business: Business) -> tuple[DayToPlan, DayPlan]:
    """The plan, and what it was made from. What is done is a fact: where it fits no plan, it stands beside it."""
    beside: set[str] = set()
    while True:
        to_plan = day_to_plan(day, practitioner, business, beside=beside)
        plan = plan_day(to_plan.request)
        left = {each.key for each in plan.unplaced if to_plan.stops[each.key].has_done}
        if not left:
            return to_plan, plan
        beside |= left


@audit.action
def _store(
    *, day: date, practitioner: User, to_plan: DayToPlan, plan: DayPlan, business: Business, at: datetime, by: User
) -> DayRound:
    DayRound.objects.filter(day=day, practitioner=practitioner).delete()
    drives = _drives(to_plan, plan)
    day_round = DayRound.objects.create(
        day=day,
        practitioner=practitioner,
        planned_at=at,
        leaves=None if plan.leave is None else time_of(plan.leave),
        back=None if plan.back is None else time_of(plan.back),
        lunch=None if plan.lunch is None else time_of(plan.lunch.start),
        drive_minutes=round(plan.drive_seconds / 60),
        distance_meters=sum(metres for _, metres in drives),
        unplaced=_unplaced(to_plan, plan, business),
        is_by_road=to_plan.travel.source == "road",
        notices=[*plan.notices, *filter(None, [to_plan.travel.notice])],
    )
    placed = _store_stops(day_round, to_plan, plan, drives, setup_minutes=business.setup_minutes)
    _refuse_machine_elsewhere(placed, day, practitioner)
    audit.record(
        "round planned",
        day_round,
        at=at,
        by=by,
        changes={
            "day": day,
            "stops": len(plan.order) + len(to_plan.done),
            "unplaced": len(day_round.unplaced),
            "drive": plan.drive_seconds,
        },
    )
    return day_round


def _drives(to_plan: DayToPlan, plan: DayPlan) -> list[tuple[int, int]]:
    """(seconds, metres) of each drive of the day, the way home last."""
    places = {stop.key: stop.place for stop in to_plan.request.stops}
    way = [BASE, *(places[planned.key] for planned in plan.order), BASE]
    legs = pairwise(way) if plan.order else ()
    return [(to_plan.travel.seconds[a][b], to_plan.travel.metres[a][b]) for a, b in legs]


def _unplaced(to_plan: DayToPlan, plan: DayPlan, business: Business) -> list[dict[str, object]]:
    """What does not fit, each with every reason; a stop without a place on the map has that one."""
    rows = []
    for each in plan.unplaced:
        stop = to_plan.stops[each.key]
        light = say_light(stop.barn, stop.visits[0].day, business.zone)
        rows.append(_unplaced_row(stop, [*(reason.sentence for reason in each.reasons), *filter(None, [light])]))
    return [*rows, *(_unplaced_row(stop, [NOT_PLACED]) for stop in to_plan.astray)]


def _unplaced_row(stop: StopToPlan, reasons: Sequence[str]) -> dict[str, object]:
    return {
        "barn": stop.barn.pk,
        "name": stop.barn.name,
        "horses": ", ".join(visit.animal.name for visit in stop.visits),
        "visits": [visit.pk for visit in stop.visits],
        "reasons": list(reasons),
    }


def _store_stops(
    day_round: DayRound,
    to_plan: DayToPlan,
    plan: DayPlan,
    drives: Sequence[tuple[int, int]],
    *,
    setup_minutes: int,
) -> list[Visit]:
    """Store the stops in order of time, and give each visit its own; what is done stands where it was done."""
    rows = [(_done_row(stop), stop) for stop in to_plan.done]
    for planned, (seconds, metres) in zip(plan.order, drives, strict=False):
        stop = to_plan.stops[planned.key]
        rows.append((_planned_row(planned, seconds=seconds, metres=metres), stop))
        _give_times(stop, planned.start + 60 * setup_minutes)
    rows.sort(key=lambda row: row[0].starts)
    for position, (row, stop) in enumerate(rows, start=1):
        row.day_round, row.position = day_round, position
        row.barn, row.isolation = stop.barn, stop.isolation
        row.save(force_insert=True)
        row.visits.set(stop.visits)
    return [visit for _, stop in rows for visit in stop.visits]


def _planned_row(planned: PlannedStop, *, seconds: int, metres: int) -> RoundStop:
    return RoundStop(
        arrives=time_of(planned.arrive),
        starts=time_of(planned.start),
        ends=time_of(planned.end),
        drive_minutes=round(seconds / 60),
        drive_meters=metres,
    )


def _done_row(stop: StopToPlan) -> RoundStop:
    spans = [(visit.starts, visit.ends) for visit in stop.visits if visit.starts and visit.ends]
    begun = min(starts for starts, _ in spans)
    return RoundStop(arrives=begun, starts=begun, ends=max(ends for _, ends in spans), drive_minutes=0, drive_meters=0)


def _give_times(stop: StopToPlan, moment: int) -> None:
    for visit in stop.visits:
        if visit.status in OPEN and not is_kept(visit):
            visit.starts = time_of(moment)
            visit.save(update_fields=["starts"])
        moment += 60 * visit.minutes


def _refuse_machine_elsewhere(visits: Sequence[Visit], day: date, practitioner: User) -> None:
    """Two practitioners may share a machine on a day, not at the same time."""
    others = [taken for taken in taken_on(day) if taken.practitioner != practitioner.pk and taken.machine is not None]
    for visit in visits:
        if visit.machine_id is None or visit.starts is None:
            continue
        begins = visit.starts.hour * 60 + visit.starts.minute
        for taken in others:
            if taken.machine == visit.machine_id and taken.starts < begins + visit.minutes and begins < taken.ends:
                raise Refused(f"{visit.machine} is with somebody else then: {taken.words}.")


@audit.action
def make_round_sheet(*, day_round: DayRound, at: datetime, by: User) -> Document:
    """The day on one sheet of paper; permission to work of every visit is decided at this door and kept."""
    found = round_of(day_round.day, day_round.practitioner)
    if found is None or not found.stops.all():
        raise Refused("There is no planned stop to print.")
    visits = all_visits(found)
    for visit in visits:
        if visit.status in OPEN:
            note_decision(
                animal=visit.animal,
                door=Decision.Door.ROUND,
                on=visit.day,
                service=visit.service,
                at=at,
                by=by,
                plan=visit.plan,
                minutes=visit.minutes,
                practitioner=visit.practitioner_id,
            )
    shown, to_write = sheet_context(found, visits), writing_context(visits, found.day)
    context = {**shown, **to_write, "drawing": map_of(found, the_business())}
    content = render_pdf("documents/round_sheet.html", context)
    document = store_document(
        kind=Document.Kind.ROUND_SHEET,
        title=f"Round of {found.day.isoformat()}, {found.practitioner}",
        content=content,
        at=at,
        by=by,
    )
    DayRound.objects.filter(pk=found.pk).update(sheet=document)
    audit.record("round sheet made", found, at=at, by=by, changes={"document": document})
    return document
