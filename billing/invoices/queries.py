from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import (
    Case,
    Count,
    DecimalField,
    Exists,
    F,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Round
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.letters.queries import letters_about
from billing.invoices.caps import within_caps
from billing.invoices.day_proposals import proposals_of
from billing.invoices.held import held_quotes, not_handed_out
from billing.invoices.hires import HireDay, days_with_hires_due, hires_of, hires_on
from billing.invoices.models import (
    Charge,
    ChargeShare,
    CreditLine,
    CreditNote,
    Invoice,
    InvoiceLine,
    InvoiceRun,
    WriteOff,
)
from billing.invoices.prepaid import PrepaidWaiting, days_with_prepaid, prepaid_waiting
from billing.invoices.proposals import DayOfWork, Proposal
from billing.journal.models import LookedThrough
from billing.packages.queries import coverage_of
from billing.packages.sold import Use
from billing.prices.distance import distance_to
from billing.prices.models import CallOutRule
from billing.prices.queries import PriceBook, price_book
from billing.quotes.models import AgreedHire, AgreedPlan
from clients.animals.models import Animal
from clients.animals.queries import payers_each_day
from clients.people.models import Person
from clients.visits.models import Session, Visit

FEES = (Charge.Kind.COULD_NOT_WORK, Charge.Kind.LATE_CANCEL)
MONEY: Any = DecimalField(max_digits=14, decimal_places=3)


def uncharged_sessions(visits: QuerySet[Visit] | None = None) -> QuerySet[Session]:
    """Completed sessions that nobody has charged or waived and no package paid for: zero by night, or shown in red."""
    charged = Charge.objects.standing().filter(session=OuterRef("pk"))
    used = Use.objects.filter(session=OuterRef("pk"), undone_at__isnull=True)
    done = _not_looked_through() if visits is None else visits
    # "not undone" rather than "done": ten years are done, and an index by state would read them all
    undone = [status for status in Visit.Status if status != Visit.Status.COMPLETED]
    return Session.objects.filter(~Exists(charged), ~Exists(used), ~Q(visit__status__in=undone), visit__in=done)


def uncharged_visits(visits: QuerySet[Visit] | None = None) -> list[tuple[date, int, str]]:
    """Day, key and barn of finished visits with something still to charge: a session, a part of a call-out, a fee to
    decide. Asked one by one, since each finds its own index."""
    columns = ("day", "pk", "barn__name")
    done = _not_looked_through() if visits is None else visits
    found = set(uncharged_sessions(done).values_list(*(f"visit__{column}" for column in columns)).order_by())
    found.update(done.filter(_fee_is_open()).values_list(*columns).order_by())
    if CallOutRule.objects.exists():
        found.update(done.filter(_call_out_is_open()).values_list(*columns).order_by())
    return sorted(found)


def _not_looked_through() -> QuerySet[Visit]:
    """Visits that may have something to charge: of days that `look_through` has not gone through, or done since."""
    mark, visits = LookedThrough.objects.first(), Visit.objects.order_by()
    if mark is None:
        return visits
    # a union, so that each half finds its own index
    halves = visits.filter(day__gt=mark.day).values("pk"), visits.filter(completed_at__gt=mark.at).values("pk")
    return visits.filter(pk__in=halves[0].union(halves[1]))


def _fee_is_open() -> Q:
    fee = ~Q(Exists(Charge.objects.standing().filter(visit=OuterRef("pk"), kind__in=FEES)))
    return (Q(status=Visit.Status.COULD_NOT_WORK) | Q(status=Visit.Status.CANCELLED, is_late_cancel=True)) & fee


def _call_out_is_open() -> Q:
    """A rule holds at the barn and no visit of this horse at this stop carries its part yet."""
    rule = CallOutRule.objects.filter(
        Q(way=CallOutRule.Way.BANDS) | Q(amount__gt=0) | Q(per_unit__gt=0) | Q(minimum__gt=0),
        Q(zone="") | Q(zone=OuterRef("barn__call_out_zone")),
        since__lte=OuterRef("day"),
    )
    part = Charge.objects.standing().filter(
        kind=Charge.Kind.CALL_OUT,
        visit__animal=OuterRef("animal"),
        visit__barn=OuterRef("barn"),
        visit__day=OuterRef("day"),
        visit__part=OuterRef("part"),
    )
    return Q(status=Visit.Status.COMPLETED) & Q(Exists(rule)) & ~Q(Exists(part))


def uncharged_places(until: date) -> dict[date, list[str]]:
    """Day → the barn of each visit with something to charge, the oldest first; none where no visit waits.

    A plan month is due on its first day.
    """
    found: dict[date, list[str]] = {day: [] for day in days_with_prepaid(until) | days_with_hires_due(until)}
    for day, _, barn in uncharged_visits():
        found.setdefault(day, []).append(barn)
    return dict(sorted(found.items()))


def uncharged_days(until: date) -> list[date]:
    """The days with something to charge, the oldest first."""
    return list(uncharged_places(until))


def proposals_for(day: date) -> list[Proposal]:
    """What the finished work of the day costs and why, as far as it is not charged or waived."""
    return proposals_by_day([day]).get(day, [])


def proposals_by_day(days: Iterable[date]) -> dict[date, list[Proposal]]:
    """The same for several days, those without a proposal left out; the number of queries of one day."""
    found = {work.day: proposals_of(work) for work in _days_of_work(sorted(set(days)))}
    return within_caps({day: proposals for day, proposals in found.items() if proposals})


def _days_of_work(days: Sequence[date]) -> list[DayOfWork]:
    if not days:
        return []
    visits, book, business = _finished_visits(days), price_book(), the_business()
    waiting = prepaid_waiting(days[-1], days)
    charges = list(Charge.objects.standing().filter(visit__in=visits))
    agreed = AgreedPlan.objects.filter(plan__in={visit.plan_id for visit in visits if visit.plan_id})
    agreed_for = {row.plan_id: row for row in agreed.select_related("plan", "quote", "option")}
    hires, on_hire = hires_of(visits), hires_on(days[-1], days)
    payers = payers_each_day(_horses(visits, waiting, hires, on_hire), days)
    charged_sessions = {charge.session_id for charge in charges if charge.session_id is not None}
    sessions = [session.pk for visit in visits for session in visit.sessions.all()]
    used = Use.objects.filter(session__in=sessions, undone_at__isnull=True).values_list("session", flat=True)
    coverage = coverage_of({visit.animal_id for visit in visits}, days)
    call_outs = {charge.visit_id: charge.amount for charge in charges if charge.kind == Charge.Kind.CALL_OUT}
    collected = [hire for asked in on_hire.values() for hire in asked.collected]
    collections = {
        charge.hire_id: charge.amount
        for charge in Charge.objects.standing().filter(kind=Charge.Kind.CALL_OUT, hire__in=collected)
        if charge.hire_id is not None
    }
    fees = {charge.visit_id for charge in charges if charge.kind in FEES}
    by_day: dict[date, list[Visit]] = {day: [] for day in days}
    for visit in visits:
        by_day[visit.day].append(visit)
    nothing, no_hires = PrepaidWaiting(), HireDay()
    held, not_out = held_quotes(waiting.values()), not_handed_out(on_hire.values())
    return [
        DayOfWork(
            day=day,
            visits=by_day[day],
            sessions={visit.pk: list(visit.sessions.all()) for visit in by_day[day]},
            payers=payers[day],
            agreed=agreed_for,
            book=book,
            currency=business.currency,
            unit=business.distance_unit,
            distances=_distances(book, by_day[day], on_hire.get(day, no_hires).collected, business),
            coverage=coverage,
            charged_sessions={*charged_sessions, *used},
            charged_call_outs={pk: amount for pk, amount in call_outs.items() if pk is not None},
            charged_fees={pk for pk in fees if pk is not None},
            hires=hires,
            collected=on_hire.get(day, no_hires).collected,
            hires_due=on_hire.get(day, no_hires).due,
            charged_collections=collections,
            sold=waiting.get(day, nothing).sold,
            vouchers=waiting.get(day, nothing).vouchers,
            plan_months=waiting.get(day, nothing).months,
            deposits=waiting.get(day, nothing).deposits,
            held_quotes=held,
            not_handed_out=not_out,
        )
        for day in days
    ]


def _horses(
    visits: Iterable[Visit],
    waiting: Mapping[date, PrepaidWaiting],
    hires: Mapping[int, AgreedHire],
    on_hire: Mapping[date, HireDay],
) -> set[Animal]:
    """All that somebody is asked to pay for."""
    shared = [*hires.values()]
    for asked in on_hire.values():
        shared += [*asked.collected, *(due.hire for due in asked.due)]
    found = {visit.animal for visit in visits} | {month.run.animal for day in waiting.values() for month in day.months}
    return found | {animal for hire in shared for animal in hire.animals}


def _distances(
    book: PriceBook, visits: Iterable[Visit], collected: Iterable[AgreedHire], business: Business
) -> dict[int, Decimal | None]:
    """How far each barn is, where a rule may ask."""
    if not book.counts_distance:
        return {}
    barns = {visit.barn for visit in visits} | {hire.animals[0].barn for hire in collected}
    return {barn.pk: distance_to(barn, business) for barn in barns}


def _finished_visits(days: Sequence[date]) -> list[Visit]:
    finished = Q(status__in=[Visit.Status.COMPLETED, Visit.Status.COULD_NOT_WORK]) | Q(
        status=Visit.Status.CANCELLED, is_late_cancel=True
    )
    return list(
        Visit.objects.filter(finished, day__in=days)
        .select_related("animal", "barn", "service")
        .prefetch_related(Prefetch("sessions", Session.objects.select_related("service")))
        .order_by("day", "part", "starts", "pk")
    )


def shares_to_invoice() -> QuerySet[ChargeShare]:
    """Confirmed parts above zero that are on no invoice yet, in the order in which they are printed."""
    return (
        ChargeShare.objects.filter(charge__state=Charge.State.CONFIRMED, amount__gt=0, is_on_paper=False, line=None)
        .select_related("charge__animal", "charge__visit__barn", "payer", "owner")
        .order_by("payer__name", "payer", "charge__work_day", "charge", "position")
    )


def issued_in(run: InvoiceRun) -> list[Invoice]:
    """What a run has issued so far."""
    issued = Invoice.objects.filter(issued_at__gte=run.started_at, issued_by=run.started_by_id)
    if run.ended_at:
        issued = issued.filter(issued_at__lte=run.ended_at)
    return list(issued.select_related("payer", "document").order_by("number"))


def to_be_mailed(invoices: Sequence[Invoice]) -> list[Invoice]:
    """Those with a paper and an address to mail it to that no letter has gone out about."""
    can_be = [invoice for invoice in invoices if invoice.document_id and invoice.payer.email]
    mailed = set(letters_about(*can_be).values_list("about_pk", flat=True))
    return [invoice for invoice in can_be if invoice.pk not in mailed]


def lines_of(invoice: Invoice) -> list[InvoiceLine]:
    lines = InvoiceLine.objects.filter(invoice=invoice)
    return list(
        lines.select_related(
            "charge_share__owner",
            "charge_share__charge__animal",
            "charge_share__charge__visit__barn",
            "charge_share__charge__sold",
            "charge_share__charge__voucher",
            "charge_share__charge__plan_month__run",
        ).order_by("position")
    )


def invoices_shown(on: date) -> QuerySet[Any]:
    """Invoices with their sums and how each is `shown`: draft, due, part-paid, paid, overdue, credited, written off."""
    return _as_shown(_with_sums(), on)


def owed_invoices() -> QuerySet[Any]:
    """Issued and not fully paid, with their sums, the one due first at the top."""
    issued = _with_sums().filter(state=Invoice.State.ISSUED, is_settled=False)
    return issued.filter(open__gt=0).order_by("due_on", "number")


def open_invoices(payer: Person, on: date) -> QuerySet[Any]:
    """What a payer owes, as it is shown."""
    return _as_shown(owed_invoices().filter(payer=payer), on)


def _with_sums() -> QuerySet[Any]:
    """Invoices with what is `paid`, `credited`, `written_off`, and `open` once issued."""
    # a subquery for each shown row: a join and a group would read all of ten years for a page of 25.
    # SQLite sums decimals as floats, so a sum is rounded before it is compared
    itself = Invoice.objects.filter(pk=OuterRef("pk")).order_by().values("pk")
    settled = Subquery(itself.annotate(sum=Sum("allocations__amount")).values("sum"), output_field=MONEY)
    paid = Round(Coalesce(settled, Value(Decimal(0)), output_field=MONEY), 3, output_field=MONEY)
    invoices: QuerySet[Any] = Invoice.objects.select_related("payer", "document")
    notes = CreditNote.objects.filter(invoice=OuterRef("pk")).order_by().values("invoice")
    credited = Coalesce(Subquery(notes.annotate(sum=Sum("total")).values("sum"), output_field=MONEY), Value(Decimal(0)))
    given_up = WriteOff.objects.filter(invoice=OuterRef("pk"), undone_on=None).values("amount")
    written_off = Coalesce(Subquery(given_up, output_field=MONEY), Value(Decimal(0)), output_field=MONEY)
    summed: QuerySet[Any] = invoices.annotate(
        paid=paid, credited=Round(credited, 3, output_field=MONEY), written_off=written_off
    ).annotate(
        open=Case(
            When(
                state=Invoice.State.ISSUED,
                then=Round(F("total") - F("paid") - F("credited") - F("written_off"), 3, output_field=MONEY),
            ),
            output_field=MONEY,
        )
    )
    return summed


def _as_shown(invoices: QuerySet[Any], on: date) -> QuerySet[Any]:
    shown: QuerySet[Any] = invoices.annotate(
        shown=Case(
            When(state=Invoice.State.DRAFT, then=Value("draft")),
            When(state=Invoice.State.CREDITED, then=Value("credited")),
            When(open__lte=0, written_off__gt=0, then=Value("written off")),
            When(open__lte=0, then=Value("paid")),
            When(due_on__lt=on, then=Value("overdue")),
            When(paid__gt=0, then=Value("part-paid")),
            default=Value("due"),
        )
    )
    return shown


def shown_state(invoice: Invoice, on: date) -> str:
    """The state in words: draft, due, part-paid, paid, overdue, credited."""
    return str(invoices_shown(on).values_list("shown", flat=True).get(pk=invoice.pk))


def credited_of(lines: Iterable[InvoiceLine]) -> dict[int, tuple[Decimal, Decimal, Decimal]]:
    """Line → what credit notes took back of it so far: as printed, before tax, tax."""
    found: dict[int, tuple[Decimal, Decimal, Decimal]] = {line.pk: (Decimal(0),) * 3 for line in lines}
    rows = CreditLine.objects.filter(line__in=list(found)).values_list("line", "amount", "net", "tax")
    for pk, amount, net, tax in rows:
        before = found[pk]
        found[pk] = (before[0] + amount, before[1] + net, before[2] + tax)
    return found


def frozen_by_name(name: str) -> Any:
    """What was frozen of the invoice (2026-0017) or credit note (2026-C0003) of that name; None where there is none."""
    number = name.rpartition("-")[2]
    papers = CreditNote.objects.all() if number.startswith("C") else Invoice.objects.exclude(number=None)
    digits = number.removeprefix("C")
    if not digits.isdecimal() or len(digits) > 9:
        return None
    found = papers.filter(number=int(digits)).first()
    return found.frozen if found is not None and found.name == name else None


def drafts_waiting() -> dict[str, Any]:
    # a draft is never settled, and what is not settled has an index
    drafts = Invoice.objects.filter(state=Invoice.State.DRAFT, is_settled=False)
    return drafts.aggregate(count=Count("pk"), total=Sum("total"))


def get_invoice_or_404(request: HttpRequest, pk: int, on: date, power: Power = Power.SEE_MONEY) -> Invoice:
    """The door of an invoice; pass Power.CHANGE_MONEY where it is changed."""
    demand(request, power)
    invoice: Invoice = get_object_or_404(invoices_shown(on), pk=pk)
    return invoice
