"""Ten weeks of work, day by day, made by the same actions that the screens call; and the three weeks ahead."""

from collections import defaultdict
from decimal import Decimal

from backoffice.demo.papers import NAME
from backoffice.demo.quotes import make_quote, quotes_by_day
from backoffice.demo.rounds import plan_rounds
from backoffice.demo.scenario import Made, Row, Scenario
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import uncharged_days
from billing.packages.actions import sell_package, start_monthly_plan
from billing.packages.models import MonthlyPlan, Package
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.vouchers.actions import sell_voucher
from clients.kit.handing_over import hand_over, lines_for
from clients.plans.actions import propose_plan, run_plan
from clients.plans.cadence import Phase
from clients.plans.models import Goal, Plan
from clients.rounds.models import RoundStop
from clients.visits.actions import (
    AreaDone,
    ArrivalSeen,
    SessionDone,
    book_all,
    book_new_visit,
    cancel_visit,
    complete_visit,
    confirm_time,
    could_not_work,
    hire_out,
    pencil_visit,
    propose_visits,
    write_visit_report,
)
from clients.visits.hours import first_free_start
from clients.visits.models import Visit

FIRST = -70
BILLED = (-50, -8)  # days on which all that is charged is invoiced; on the first, to those who pay by the month
REPORTS_FROM = -3  # reports of older visits are drawn when somebody asks for them
UNCHARGED_FROM = -1  # yesterday's work is not charged yet: Today shows it in red
PAID_AFTER = {"day": 0, "check": 1, "late": 12, "slow": 55, "part": 3}
PAY_ON_THE_SPOT = {"day", "check"}
METHODS = {"day": Payment.Method.CASH, "check": Payment.Method.CHECK, "slow": Payment.Method.CARD}


def live_through(scenario: Scenario, made: Made) -> None:
    """From the first day to today's morning."""
    start_plans(scenario, made)
    quotes = quotes_by_day(scenario)
    payments: dict[int, list[tuple[Invoice, str]]] = defaultdict(list)
    habits = {made.people[row["id"]].pk: row["habit"] for row in scenario.owners}
    for offset in range(FIRST, 1):
        for row in quotes.get(offset, ()):
            make_quote(row, scenario, made)
        _sell(offset, scenario, made)
        if offset < 0:
            _work(offset, scenario, made)
        if offset < UNCHARGED_FROM and scenario.day(offset) in uncharged_days(scenario.day(offset)):
            confirm_charges(day=scenario.day(offset), at=scenario.at(offset, 20), by=made.manager)
        if offset in BILLED:
            _bill(offset, scenario, made, habits, payments)
        for invoice, habit in payments.pop(offset, ()):
            _pay(invoice, habit, offset, scenario, made)


def start_plans(scenario: Scenario, made: Made) -> None:
    """The upkeep plans, proposed and booked as far as permission allows; what is not ready stays pencilled."""
    _one_visit(scenario, made)
    days = {row["id"]: row["visit_day"] for row in scenario.barns}
    for row in scenario.horses:
        if row["every_days"]:
            _start_plan(row, days[row["barn"]], scenario, made)
    for hire in scenario.story["hires"]:
        promised = hire_out(
            machine=made.machines[hire["machine"]],
            person=made.people[hire["owner"]],
            since=scenario.day(hire["since"]),
            until=scenario.day(hire["until"]),
            at=scenario.at(hire["since"], 8),
            by=made.manager,
        )
        hand_over(
            hire=promised,
            ticked=lines_for(promised.machine),
            name_typed=promised.person.name,
            strokes=NAME,
            hours=Decimal(hire["hours"]),
            at=scenario.at(hire["since"], 9),
            by=made.manager,
        )


def _sell(offset: int, scenario: Scenario, made: Made) -> None:
    """The packages, vouchers and monthly plans of the day; one session of the package is left by today."""
    on, at, by = scenario.day(offset), scenario.at(offset, 8), made.manager
    names = {row["id"]: row["name"] for kind in ("packages", "monthly_plans") for row in scenario.story[kind]}
    for row in scenario.story["packages_sold"]:
        if row["day"] == offset:
            package, payer = Package.objects.get(name=names[row["package"]]), made.people[row["owner"]]
            horse = made.animals[row["horse"]]
            sell_package(package=package, payer=payer, animals=[horse], on=on, at=at, by=by)
    for row in scenario.story["vouchers_sold"]:
        if row["day"] == offset:
            amount, buyer = Decimal(row["amount"]), made.people[row["owner"]]
            sell_voucher(payer=buyer, amount=amount, for_whom=row["for_whom"], ends_on=None, at=at, by=by)
    for row in scenario.story["plans_running"]:
        if row["day"] == offset:
            plan = MonthlyPlan.objects.get(name=names[row["plan"]])
            start_monthly_plan(plan=plan, animal=made.animals[row["horse"]], start=on, at=at, by=by)


def _start_plan(row: Row, weekday: str, scenario: Scenario, made: Made) -> None:
    every, isolated = int(row["every_days"]), row["id"] in scenario.story["isolation"]
    first = 0 if isolated else scenario.first_on(weekday, FIRST) + 7 * int(row["first_week"])
    last = 7 * int(scenario.story["business"]["weeks_ahead"])
    at = scenario.at(FIRST - 2, 9)
    plan = propose_plan(
        animal=made.animals[row["id"]],
        goal=Goal.UPKEEP,
        title={7: "Upkeep every week", 14: "Upkeep every other week"}.get(every, "Upkeep every four weeks"),
        guideline_version=None,
        full_service=made.services[row["service"]],
        spot_service=None,
        start=scenario.day(first),
        days=last - first + 1,
        phases=[Phase(last - first + 1, full_every=every)],
        practitioner=made.manager,
        at=at,
        by=made.manager,
    )
    due = scenario.story["review_due"].get(row["id"])
    if due is not None:
        Plan.objects.filter(pk=plan.pk).update(review_on=scenario.day(due))
    run_plan(plan=plan, at=at, by=made.manager)
    propose_visits(plan=plan, at=at, by=made.manager)
    book_all(plan=plan, at=at, by=made.manager)


def book_ahead(scenario: Scenario, made: Made) -> None:
    """What the health questions of two weeks ago have made ready since."""
    for plan in Plan.objects.filter(state=Plan.State.RUNNING):
        book_all(plan=plan, at=scenario.at(-1, 21), by=made.manager)


def pencil_wishes(scenario: Scenario, made: Made) -> None:
    """Visits that owners asked for and that permission to work still holds."""
    for wish in scenario.story["wanted"]:
        service = made.services[wish["service"]]
        pencil_visit(
            animal=made.animals[wish["horse"]],
            service=service,
            practitioner=made.manager,
            machine=made.machines["one"] if service.uses_machine else None,
            day=scenario.day(wish["in"]),
            at=scenario.at(-1, 20),
            by=made.manager,
        )


def _one_visit(scenario: Scenario, made: Made) -> None:
    for horse, offset in scenario.story["last_seen"].items():
        animal, service = made.animals[horse], made.services["full"]
        day = scenario.day(offset)
        starts = first_free_start(
            day=day,
            practitioner=made.manager,
            barn=animal.barn,
            minutes=service.minutes,
            machine=made.machines["one"],
            animal=animal,
            part=1,
        )
        if starts is not None:
            book_new_visit(
                animal=animal,
                service=service,
                practitioner=made.manager,
                machine=made.machines["one"],
                day=day,
                starts=starts,
                at=scenario.at(offset - 3),
                by=made.manager,
            )


def _work(offset: int, scenario: Scenario, made: Made) -> None:
    visits = Visit.objects.filter(day=scenario.day(offset), status=Visit.Status.BOOKED).order_by("starts")
    for visit in visits.select_related("animal", "service"):
        if _is_called_off(visit, scenario, made):
            cancel_visit(visit=visit, reason="Owner away.", at=scenario.at(offset, 7), by=made.manager)
        elif _is_snowed_off(visit, offset, scenario, made):
            could_not_work(visit=visit, cause=Visit.Cause.WEATHER, at=scenario.at(offset, 9), by=made.manager)
        else:
            finish(visit, offset, scenario, made)


def _is_called_off(visit: Visit, scenario: Scenario, made: Made) -> bool:
    for row in scenario.story["late_cancels"]:
        if visit.animal_id == made.animals[row["horse"]].pk:
            return visit.animal.visits.filter(is_late_cancel=True).count() < int(row["visits"])
    return False


def _is_snowed_off(visit: Visit, offset: int, scenario: Scenario, made: Made) -> bool:
    row = scenario.story["snowed_off"]
    return visit.barn_id == made.barns[row["barn"]].pk and row["from"] <= offset <= row["to"]


def finish(visit: Visit, offset: int, scenario: Scenario, made: Made) -> None:
    """Areas, applicators and reactions in turn, so that no two reports read alike."""
    reactions, turn = scenario.story["reactions"], visit.pk
    areas: tuple[AreaDone, ...] = ()
    if visit.service.uses_machine:
        share = max(1, visit.minutes // len(scenario.story["areas"]))
        areas = tuple(
            AreaDone(
                area=area,
                minutes=share,
                applicator=made.applicators[(turn + place) % 2],
                setting=2 + (turn + place) % 4,
                reaction=reactions[(turn + place) % len(reactions)],
            )
            for place, area in enumerate(scenario.story["areas"])
        )
    session = SessionDone(
        service=visit.service,
        areas=areas,
        minutes=None if areas else visit.minutes,
        ease_before=4 + turn % 3,
        ease_after=5 + turn % 4,
        reaction=reactions[turn % len(reactions)],
    )
    at = scenario.at(offset, 17)
    done = complete_visit(
        visit=visit, arrival=ArrivalSeen(no_stop_sign=True), sessions=[session], at=at, by=made.manager
    )
    if offset >= REPORTS_FROM:
        write_visit_report(visit=done, at=at, by=made.manager)


def _bill(
    offset: int,
    scenario: Scenario,
    made: Made,
    habits: dict[int, str],
    payments: dict[int, list[tuple[Invoice, str]]],
) -> None:
    at = scenario.at(offset, 21)
    for draft in draft_invoices(at=at, by=made.manager):
        habit = habits.get(draft.payer_id, "part")
        if offset == BILLED[0] and habit in PAY_ON_THE_SPOT:
            continue
        invoice = issue_invoice(invoice=draft, on=scenario.day(offset), at=at, by=made.manager)
        if habit in PAID_AFTER and not _stays_open(invoice, made, scenario):
            payments[offset + PAID_AFTER[habit]].append((invoice, habit))


def _stays_open(invoice: Invoice, made: Made, scenario: Scenario) -> bool:
    """One of the three co-owners pays a part of the first bill only."""
    name, _share = scenario.story["co_owners"]["H16"][-1]
    return invoice.payer_id == made.people[name].pk and invoice.payer.invoices.filter(number__isnull=False).count() > 1


def _pay(invoice: Invoice, habit: str, offset: int, scenario: Scenario, made: Made) -> None:
    name, _share = scenario.story["co_owners"]["H16"][-1]
    amount = invoice.total
    if invoice.payer_id == made.people[name].pk:
        amount = (amount / 2).quantize(Decimal("0.01"))
    take_payment(
        payer=invoice.payer,
        amount=amount,
        method=METHODS.get(habit, Payment.Method.TRANSFER),
        received_on=scenario.day(offset),
        allocations={invoice: amount},
        reference="",
        at=scenario.at(offset, 21, 30),
        by=made.manager,
    )


def live_today(scenario: Scenario, made: Made) -> None:
    """This morning: a visit called off late, the round planned and printed, its first barn done, a time promised."""
    late = [made.animals[row["horse"]].pk for row in scenario.story["late_cancels"]]
    for visit in Visit.objects.filter(day=scenario.today, status=Visit.Status.BOOKED, animal__in=late):
        cancel_visit(visit=visit, reason="Owner away.", at=scenario.at(0, 6), by=made.manager)
    plan_rounds(scenario, made)
    stops = list(RoundStop.objects.filter(day_round__day=scenario.today).order_by("position"))
    if not stops:
        return
    for visit in stops[0].visits.select_related("animal", "service"):
        finish(visit, 0, scenario, made)
    if len(stops) > 1:
        promised = stops[1].visits.filter(status=Visit.Status.BOOKED).order_by("starts").first()
        if promised is not None:
            confirm_time(visit=promised, at=scenario.now, by=made.manager)
