from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import F, OuterRef, Prefetch, Q, QuerySet, Subquery

from clients.plans import cadence, coverage
from clients.plans.changes import Wording, changes
from clients.plans.models import Guideline, GuidelineVersion, PhaseFields, Plan, Service

UNFINISHED = (Plan.State.PROPOSED, Plan.State.RUNNING, Plan.State.PAUSED)
REVIEW_NOTICE = timedelta(days=3)
DAYS_WITHOUT_GUIDELINE = 1


def services() -> QuerySet[Service]:
    return Service.objects.all()


def offered_services() -> QuerySet[Service]:
    return Service.objects.filter(is_offered=True)


def guidelines() -> QuerySet[Guideline]:
    return Guideline.objects.prefetch_related(
        Prefetch("versions", GuidelineVersion.objects.order_by("-number").prefetch_related("phases"))
    )


def latest_version(guideline: Guideline) -> GuidelineVersion | None:
    return guideline.versions.order_by("-number").prefetch_related("phases").first()


def latest_versions() -> QuerySet[GuidelineVersion]:
    """The newest version of each guideline, with its phases: what a new quote or plan may be measured against."""
    newest = GuidelineVersion.objects.filter(guideline=OuterRef("guideline")).order_by("-number").values("pk")[:1]
    return (
        GuidelineVersion.objects.filter(pk=Subquery(newest))
        .select_related("guideline")
        .prefetch_related("phases")
        .order_by("guideline__name")
    )


def changes_between(before: GuidelineVersion, after: GuidelineVersion) -> list[str]:
    """What changed between two versions of one guideline, in words; their phases should be prefetched."""
    return changes(wording_of(before), wording_of(after))


def wording_of(version: GuidelineVersion) -> Wording:
    days_before = version.last_full_days_before
    return Wording(
        phases=tuple(str(phase) for phase in version.phases.all()),
        facts=(
            ("Where it comes from", version.source),
            ("Days early or late", str(version.tolerance_days)),
            ("A spot needs a full body in the days before", str(version.spot_needs_full_within)),
            ("Days from the last full body to the event", "not said" if days_before is None else str(days_before)),
            ("Needs the vet", "yes" if version.asks_vet else "no"),
            ("Until the vet says so", "yes" if version.until_vet_says else "no"),
        ),
    )


def phases_of(rows: Iterable[PhaseFields]) -> tuple[cadence.Phase, ...]:
    return tuple(
        cadence.Phase(
            days=row.days, full_every=row.full_every, full_rule=row.full_rule, spots_per_day=row.spots_per_day
        )
        for row in rows
    )


def schedule_of(plan: Plan) -> cadence.Schedule:
    """The plan's phases and days off as the pure engine takes them; `plan.phases` should be prefetched in lists."""
    return cadence.Schedule(
        phases=phases_of(plan.phases.all()),
        days_off=cadence.DaysOff.of(plan.days_off),
        on_day_off=cadence.OnDayOff(plan.on_day_off),
    )


def tolerance_of(plan: Plan) -> timedelta:
    """How early or late a session may be; a day where no guideline says. Load `guideline_version` beside plans."""
    version = plan.guideline_version
    return timedelta(days=version.tolerance_days if version else DAYS_WITHOUT_GUIDELINE)


def services_of(plan: Plan) -> list[Service]:
    """The services that its phases hold, the full body first; `plan.phases` should be prefetched in lists."""
    phases = phases_of(plan.phases.all())
    has_full = any(phase.full_every or phase.full_rule for phase in phases)
    has_spots = any(phase.spots_per_day for phase in phases)
    held = ((has_full, plan.full_service), (has_spots, plan.spot_service))
    return [service for is_held, service in held if is_held and service is not None]


def planned_sessions(plan: Plan) -> cadence.Expansion:
    return schedule_of(plan).expand(plan.start, plan.days)


def guideline_of(version: GuidelineVersion) -> coverage.Guideline:
    return coverage.Guideline(
        phases=phases_of(version.phases.all()),
        tolerance_days=version.tolerance_days,
        spot_needs_full_within=version.spot_needs_full_within,
    )


def plans() -> QuerySet[Plan]:
    return Plan.objects.select_related(
        "animal__barn", "full_service", "spot_service", "practitioner", "guideline_version__guideline"
    ).prefetch_related("phases")


def plans_of(animal_pk: int) -> QuerySet[Plan]:
    return plans().filter(animal=animal_pk)


def plans_to_review(on: date) -> QuerySet[Plan]:
    """Running plans whose review day has come, or comes within three days, and that were not reviewed since."""
    return (
        plans()
        .filter(state__in=[Plan.State.RUNNING, Plan.State.PAUSED], review_on__lte=on + REVIEW_NOTICE)
        .filter(Q(reviewed_on__isnull=True) | Q(reviewed_on__lt=F("review_on")))
        .order_by("review_on", "pk")
    )
