from collections.abc import Sequence
from datetime import date, datetime, timedelta

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.paperwork.queries import permission_for_each, work_of
from clients.plans import cadence
from clients.plans.models import (
    Goal,
    Guideline,
    GuidelinePhase,
    GuidelineVersion,
    Plan,
    PlanPhase,
    Service,
)
from clients.plans.queries import services_of
from clients.plans.starter_guidelines import STARTERS

REVIEW_BEFORE_END = timedelta(days=3)


@audit.action
def save_service(*, service: Service, at: datetime, by: User) -> Service:
    service.save()
    audit.record("service saved", service, at=at, by=by, changes={"minutes": service.minutes})
    return service


@audit.action
def publish_version(
    *,
    guideline: Guideline,
    source: str,
    phases: Sequence[cadence.Phase],
    tolerance_days: int,
    spot_needs_full_within: int,
    until_vet_says: bool = False,
    asks_vet: bool = False,
    last_full_days_before: int | None = None,
    at: datetime,
    by: User | None,
) -> GuidelineVersion:
    """A new version; those before it stay, since plans and quotes point at them."""
    if not source.strip():
        raise Refused("Say where the guideline comes from.")
    if not phases:
        raise Refused("A guideline needs at least one phase.")
    if last_full_days_before is not None and guideline.goal != Goal.EVENT:
        raise Refused("Only a guideline around an event counts its last full body from the event.")
    if last_full_days_before is not None and not any(phase.full_every or phase.full_rule for phase in phases):
        raise Refused("This guideline has no full body to count from the event.")
    last = guideline.versions.order_by("-number").first()
    version = GuidelineVersion.objects.create(
        guideline=guideline,
        number=last.number + 1 if last else 1,
        source=source.strip(),
        until_vet_says=until_vet_says,
        asks_vet=asks_vet,
        last_full_days_before=last_full_days_before,
        tolerance_days=tolerance_days,
        spot_needs_full_within=spot_needs_full_within,
        made_at=at,
    )
    GuidelinePhase.objects.bulk_create(
        GuidelinePhase(version=version, position=position, **_columns(phase))
        for position, phase in enumerate(phases, start=1)
    )
    audit.record("guideline version published", guideline, at=at, by=by, changes={"number": version.number})
    return version


@audit.action
def add_starter_guidelines(*, at: datetime, by: User | None) -> list[Guideline]:
    """Upkeep and around an event, marked as common practice. Those already there by name are left alone."""
    added = []
    for starter in STARTERS:
        guideline, is_new = Guideline.objects.get_or_create(name=starter.name, defaults={"goal": starter.goal})
        if not is_new:
            continue
        publish_version(
            guideline=guideline,
            source=starter.source,
            phases=starter.phases,
            tolerance_days=starter.tolerance_days,
            spot_needs_full_within=starter.spot_needs_full_within,
            last_full_days_before=starter.last_full_days_before,
            at=at,
            by=by,
        )
        added.append(guideline)
    return added


@audit.action
def propose_plan(
    *,
    animal: Animal,
    goal: str,
    title: str,
    guideline_version: GuidelineVersion | None,
    full_service: Service,
    spot_service: Service | None,
    start: date,
    days: int,
    phases: Sequence[cadence.Phase],
    days_off: Sequence[str] = (),
    on_day_off: str = cadence.OnDayOff.KEEP,
    practitioner: User | None = None,
    at: datetime,
    by: User | None,
) -> Plan:
    """A proposed plan with its phases; `run_plan` sets it running."""
    _check_plan(animal=animal, days=days, phases=phases, spot_service=spot_service)
    cadence.DaysOff.of(days_off)
    plan = Plan.objects.create(
        animal=animal,
        goal=Goal(goal),
        title=title,
        guideline_version=guideline_version,
        full_service=full_service,
        spot_service=spot_service,
        practitioner=practitioner,
        start=start,
        days=days,
        days_off=list(days_off),
        on_day_off=on_day_off,
        state=Plan.State.PROPOSED,
        review_on=review_day(start, days),
    )
    PlanPhase.objects.bulk_create(
        PlanPhase(plan=plan, position=position, **_columns(phase)) for position, phase in enumerate(phases, start=1)
    )
    audit.record("plan proposed", plan, at=at, by=by, changes={"animal": animal, "start": start})
    return plan


def review_day(start: date, days: int) -> date:
    """A few days before the plan's last day, never before its first."""
    return max(start, start + timedelta(days=days - 1) - REVIEW_BEFORE_END)


def _check_plan(*, animal: Animal, days: int, phases: Sequence[cadence.Phase], spot_service: Service | None) -> None:
    if animal.died_on is not None:
        raise Refused(f"{animal} has died; no plan can start.")
    if not phases:
        raise Refused("A plan needs at least one phase.")
    if not 1 <= days <= 730:
        raise Refused("A plan lasts from 1 to 730 days.")
    if spot_service is None and any(phase.spots_per_day for phase in phases):
        raise Refused("The plan has spots: say which service they are.")


def _columns(phase: cadence.Phase) -> dict[str, int | str | None]:
    return {
        "days": phase.days,
        "full_every": phase.full_every,
        "full_rule": phase.full_rule,
        "spots_per_day": phase.spots_per_day,
    }


@audit.action
def allow_spots_alone(*, plan: Plan, reason: str, at: datetime, by: User | None) -> Plan:
    """The plan goes on though some of its spots have no full body near before them: why, once for all its visits."""
    if not reason.strip():
        raise Refused("Give a reason to go on.")
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    plan.spots_alone_reason = reason.strip()
    plan.save(update_fields=["spots_alone_reason"])
    audit.record("spots without a full body allowed", plan, at=at, by=by, changes={"animal": plan.animal_id})
    return plan


MOVES: dict[str, tuple[Plan.State, ...]] = {
    Plan.State.RUNNING: (Plan.State.PROPOSED, Plan.State.PAUSED),
    Plan.State.PAUSED: (Plan.State.RUNNING,),
    Plan.State.FINISHED: (Plan.State.RUNNING, Plan.State.PAUSED),
    Plan.State.STOPPED: (Plan.State.PROPOSED, Plan.State.RUNNING, Plan.State.PAUSED),
}


@audit.action
def run_plan(*, plan: Plan, at: datetime, by: User | None) -> Plan:
    """A proposed plan with nothing on hold, or one that was paused: permission is asked for each of its services."""
    moved = _move(plan, to=Plan.State.RUNNING, at=at, by=by)
    works = [(moved.animal, work_of(service, plan=moved)) for service in services_of(moved)]
    holds = [found for found in permission_for_each(works, on=max(moved.start, local_date(at))) if found.is_hold]
    if holds:
        sentences = dict.fromkeys(reason.sentence for found in holds for reason in found.reasons)
        raise Refused(f"{moved.animal}: hold. {' '.join(sentences)}")
    return moved


def pause_plan(*, plan: Plan, at: datetime, by: User | None) -> Plan:
    return _move(plan, to=Plan.State.PAUSED, at=at, by=by)


def finish_plan(*, plan: Plan, at: datetime, by: User | None) -> Plan:
    return _move(plan, to=Plan.State.FINISHED, at=at, by=by)


def stop_plan(*, plan: Plan, at: datetime, by: User | None) -> Plan:
    return _move(plan, to=Plan.State.STOPPED, at=at, by=by)


@audit.action
def _move(plan: Plan, *, to: Plan.State, at: datetime, by: User | None) -> Plan:
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state not in MOVES[to]:
        raise Refused(f"A plan that is {plan.get_state_display().lower()} cannot become {to.label.lower()}.")
    before, plan.state = plan.state, to
    plan.save(update_fields=["state"])
    audit.record(f"plan {to.label.lower()}", plan, at=at, by=by, changes={"from": before, "to": to})
    return plan


@audit.action
def review_plan(*, plan: Plan, next_on: date | None, at: datetime, by: User | None) -> Plan:
    """The plan was looked at with the owner; the next review is set, or there is none."""
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    on = local_date(at)
    if next_on is not None and next_on <= on:
        raise Refused("The next review is after today.")
    plan.reviewed_on, plan.review_on = on, next_on
    plan.save(update_fields=["reviewed_on", "review_on"])
    audit.record("plan reviewed", plan, at=at, by=by, changes={"next": next_on})
    return plan
