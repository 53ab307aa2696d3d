"""The owner's yes, from the signature to the plan and its visits, top to bottom."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.quotes.actions import lock_answerable
from billing.quotes.charging import our_counts
from billing.quotes.comparison import HorseMeasures, OptionMeasures
from billing.quotes.hiring import agree_hires
from billing.quotes.models import Acceptance, AgreedPlan, Option, OptionSchedule, Quote
from billing.quotes.prepaying import book_prepaid
from billing.quotes.queries import comparison_of, why_overtaken
from billing.quotes.quote_file import horse_names
from billing.quotes.request import PricingRequest
from clients.paperwork.actions import note_decision
from clients.paperwork.gathering import is_too_young
from clients.paperwork.models import Decision
from clients.paperwork.strokes import checked
from clients.people.models import Person
from clients.people.names import folded
from clients.plans.actions import propose_plan, run_plan
from clients.plans.cadence import Kind
from clients.plans.models import Plan
from clients.plans.queries import phases_of, services_of
from clients.visits.actions import propose_visits


@dataclass(frozen=True, slots=True)
class Signed:
    """What the owner gave: typed name, strokes, and what shows where it came from."""

    name_typed: str
    strokes: object
    device: str = ""
    address: str | None = None
    link: PrivateLink | None = None


@audit.action
def accept_quote(*, quote: Quote, option: Option, signed: Signed, at: datetime, by: User | None = None) -> Acceptance:
    """Take the owner's signed choice: one plan a horse at the quoted prices, its visits pencilled.

    A horse whose permission to work is on hold gets its plan as proposed: nothing is booked until the cause is mended.
    """
    quote = lock_answerable(quote, at=at)
    on = local_date(at)
    overtaken = why_overtaken(quote, on)
    if overtaken:
        raise Refused(f"{overtaken} Ask for a new quote.")
    refuse_wrong_signer(quote.person, signed.name_typed, on)
    request, measures = _priced(quote, option, on=on)
    option.is_chosen = True
    option.save(update_fields=["is_chosen"])
    quote.state, quote.answered_at = Quote.State.ACCEPTED, at
    quote.save(update_fields=["state", "answered_at"])
    acceptance = Acceptance.objects.create(
        quote=quote,
        option=option,
        name_typed=" ".join(signed.name_typed.split()),
        strokes=_drawn(signed.strokes),
        signed_at=at,
        device=signed.device[:300],
        address=signed.address,
        link=signed.link,
        total=measures.total,
        at_most={owner.name: f"{owner.at_most:f}" for owner in measures.owners},
    )
    audit.record(
        "quote accepted",
        quote,
        at=at,
        by=by,
        via="private link" if signed.link else "",
        changes={"option": option, "total": measures.total},
    )
    acceptance.plans.set(_carry_out(quote, option, request, measures, at=at, by=by))
    return acceptance


def refuse_wrong_signer(person: Person, name_typed: str, on: date) -> None:
    """Refused, with a sentence, unless the name is that of the person or of the guardian who signs for them."""
    signer = person
    if is_too_young(person, on, the_business().signing_age):
        if person.guardian is None:
            raise Refused(f"{person} is too young to sign, and no parent or guardian is named. Please call us.")
        signer = person.guardian
    if not name_typed.strip():
        raise Refused("The name is missing: type it as it stands on the quote.")
    if signer.kind != Person.Kind.ORGANIZATION and folded(name_typed) != folded(signer.name):
        raise Refused(f"The name typed differs from the name on the quote, {signer}.")


def _drawn(strokes: object) -> list[list[tuple[float, float]]]:
    try:
        return checked(strokes)
    except ValueError as fault:
        raise Refused(str(fault)) from None


def _priced(quote: Quote, option: Option, *, on: date) -> tuple[PricingRequest, OptionMeasures]:
    """What the owner saw: the quote as frozen, and the chosen row of it."""
    shown = comparison_of(quote, on=on)
    measures = next((row.measures for row in shown.rows if row.option.pk == option.pk), None)
    if measures is None or shown.comparison is None:
        raise Refused("This option belongs to another quote.")
    return shown.comparison.request, measures


def _carry_out(
    quote: Quote, option: Option, request: PricingRequest, measures: OptionMeasures, *, at: datetime, by: User | None
) -> list[Plan]:
    schedules = list(option.schedules.select_related("animal__barn").prefetch_related("phases"))
    names = horse_names(horse.animal for horse in quote.horses.select_related("animal"))
    by_name = {horse.name: horse for horse in measures.horses}
    plans = [
        _start(quote, schedule, request, by_name[names[schedule.animal_id]], at=at, by=by)
        for schedule in schedules
        if schedule.by != OptionSchedule.By.HIRE
    ]
    animals = {names[schedule.animal_id]: schedule.animal for schedule in schedules}
    agree_hires(option, animals, request, measures, at=at, by=by)
    book_prepaid(quote, animals, measures, at=at, by=by)
    return plans


def _start(
    quote: Quote,
    schedule: OptionSchedule,
    request: PricingRequest,
    horse: HorseMeasures,
    *,
    at: datetime,
    by: User | None,
) -> Plan:
    counts = our_counts(horse.days)
    plan = propose_plan(
        animal=schedule.animal,
        goal=quote.goal,
        title=quote.title,
        guideline_version=quote.guideline_version,
        full_service=quote.full_service,
        spot_service=quote.spot_service,
        start=quote.start + timedelta(days=schedule.shift),
        days=quote.days - schedule.shift,
        phases=phases_of(schedule.phases.all()),
        days_off=schedule.days_off,
        on_day_off=schedule.on_day_off,
        at=at,
        by=by,
    )
    _run_unless_held(plan, at=at, by=by)
    AgreedPlan.objects.create(
        plan=plan,
        quote=quote,
        option=schedule.option,
        full_price=_agreed(request, Kind.FULL, counts[Kind.FULL]),
        spot_price=_agreed(request, Kind.SPOT, counts[Kind.SPOT]),
        call_out_at_most=request.call_out.amount,
    )
    propose_visits(plan=plan, at=at, by=by)
    return plan


def _run_unless_held(plan: Plan, *, at: datetime, by: User | None) -> None:
    decisions = [
        note_decision(
            animal=plan.animal,
            door=Decision.Door.ACCEPTANCE,
            on=max(plan.start, local_date(at)),
            service=service,
            plan=plan,
            at=at,
            by=by,
        )
        for service in services_of(plan)
    ]
    if all(decision.result != Decision.Result.HOLD for decision in decisions):
        run_plan(plan=plan, at=at, by=by)


def _agreed(request: PricingRequest, kind: Kind, count: int) -> Decimal | None:
    service = request.services.get(kind)
    return service.price_for(count) if service is not None else None
