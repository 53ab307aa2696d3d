from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import reduce
from operator import or_
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
from billing.invoices.models import Charge, ChargeShare, CreditNote, Invoice, WriteOff
from billing.invoices.queries import (
    drafts_waiting,
    open_invoices,
    owed_invoices,
    proposals_by_day,
    shares_to_invoice,
    uncharged_days,
)
from billing.journal.models import Account, Posting
from billing.payments.models import Allocation, Payment, RefundPart
from billing.payments.statement import Statement, aged, moves_from
from clients.barnside.models import HandMoney
from clients.barnside.queries import hand_money
from clients.people.models import Person

BETWEEN_US = (Account.RECEIVABLE, Account.CREDIT)
MONEY: Any = DecimalField(max_digits=14, decimal_places=3)


def _sum_of(amounts: Any) -> Any:
    """SQLite sums decimals as floats, so a sum is rounded before it is compared."""
    return Round(Coalesce(amounts, Value(Decimal(0)), output_field=MONEY), 3, output_field=MONEY)


def payments_shown() -> QuerySet[Any]:
    """Payments with what of them is `allocated` or `refunded`, and what is `credit` on account: nothing of a check that
    came back."""
    rows: QuerySet[Any] = Payment.objects.select_related("payer", "receipt", "slip")
    spare = Round(F("amount") - F("tip") - F("allocated") - F("refunded"), 3, output_field=MONEY)
    credit = Case(When(returned_on=None, then=spare), default=Value(Decimal(0)), output_field=MONEY)
    refunded = _total(RefundPart.objects.filter(payment=OuterRef("pk")), "amount", by="payment")
    allocated = _total(Allocation.objects.filter(payment=OuterRef("pk")), "amount", by="payment")
    used = rows.annotate(allocated=allocated, refunded=refunded)
    shown: QuerySet[Any] = used.annotate(credit=credit)
    return shown


def money_from_the_barn() -> QuerySet[HandMoney]:
    """Taken in the barn and not booked as a payment yet, the oldest first."""
    return hand_money().exclude(pk__in=Payment.objects.filter(hand_money__isnull=False).values("hand_money"))


def payers_shown() -> QuerySet[Any]:
    """Everybody who was ever charged, with what they owe on issued invoices and what credit they have."""
    mine = {"payer": OuterRef("pk"), "state": Invoice.State.ISSUED, "is_settled": False}
    of_mine = {f"invoice__{name}": value for name, value in mine.items()}
    billed = _total(Invoice.objects.filter(**mine), "total", by="payer")
    settled = _total(Allocation.objects.filter(**of_mine), "amount", by="invoice__payer")
    credited = _total(CreditNote.objects.filter(**of_mine), "total", by="invoice__payer")
    written_off = _total(WriteOff.objects.filter(**of_mine, undone_on=None), "amount", by="invoice__payer")
    booked = _total(Posting.objects.filter(account=Account.CREDIT, payer=OuterRef("pk")), "amount", by="payer")
    ever = (Exists(model.objects.filter(payer=OuterRef("pk"))) for model in (ChargeShare, Payment, Invoice))
    return Person.objects.filter(reduce(or_, ever)).annotate(
        owes=Round(billed - settled - credited - written_off, 3, output_field=MONEY),
        credit=Round(-booked, 3, output_field=MONEY),
    )


def _total(rows: QuerySet[Any], column: str, *, by: str) -> Any:
    return _sum_of(Subquery(rows.order_by().values(by).annotate(sum=Sum(column)).values("sum"), output_field=MONEY))


def waiting_shares(payer: Person) -> QuerySet[ChargeShare]:
    """Confirmed parts of the payer that are not on an issued invoice yet."""
    confirmed = ChargeShare.objects.filter(payer=payer, charge__state=Charge.State.CONFIRMED, amount__gt=0)
    waiting = confirmed.filter(Q(line__isnull=True) | Q(line__invoice__state=Invoice.State.DRAFT))
    return waiting.select_related("charge__animal").order_by("charge__work_day", "charge", "position")


def oldest_first(amount: Decimal, invoices: Sequence[Invoice]) -> dict[Invoice, Decimal]:
    """What of `amount` each invoice takes when they are settled in their order; each has its `open` part."""
    taken: dict[Invoice, Decimal] = {}
    for invoice in invoices:
        part = min(amount, invoice.open)
        if part > 0:
            taken[invoice], amount = part, amount - part
    return taken


@dataclass(frozen=True, slots=True)
class Overview:
    """The state of the money on a day, in counts and sums."""

    uncharged: int
    uncharged_total: Decimal
    oldest_uncharged: date | None
    waiting_total: Decimal
    drafts: int
    drafts_total: Decimal
    owed: int
    owed_total: Decimal
    overdue: int
    overdue_total: Decimal
    week_from: date
    received: int
    received_total: Decimal
    credit_total: Decimal


def money_overview(on: date) -> Overview:
    by_day = proposals_by_day(uncharged_days(on))
    proposals = [proposal for proposals in by_day.values() for proposal in proposals]
    drafts = drafts_waiting()
    owed = list(owed_invoices().values_list("open", "due_on"))
    late = [part for part, due_on in owed if due_on < on]
    monday = on - timedelta(days=on.weekday())
    week = Payment.objects.filter(received_on__gte=monday, received_on__lte=on).aggregate(
        n=Count("pk"), s=Sum("amount")
    )
    return Overview(
        uncharged=len(proposals),
        uncharged_total=sum((proposal.amount or Decimal(0) for proposal in proposals), Decimal(0)),
        oldest_uncharged=min(by_day, default=None),
        waiting_total=sum(shares_to_invoice().order_by().values_list("amount", flat=True), Decimal(0)),
        drafts=drafts["count"],
        drafts_total=drafts["total"] or Decimal(0),
        owed=len(owed),
        owed_total=sum((part for part, _ in owed), Decimal(0)),
        overdue=len(late),
        overdue_total=sum(late, Decimal(0)),
        week_from=monday,
        received=week["n"],
        received_total=week["s"] or Decimal(0),
        credit_total=credit_on_account(),
    )


def credit_on_account(payer: Person | None = None) -> Decimal:
    """Money received that no invoice has taken and that was not given back, of one payer or of all."""
    booked = Posting.objects.filter(account=Account.CREDIT)
    if payer is not None:
        booked = booked.filter(payer=payer)
    return -sum(booked.values_list("amount", flat=True), Decimal(0))


def balance_of(account: Account) -> Decimal:
    """What stands on an account of the books, debit positive."""
    return sum(Posting.objects.filter(account=account).values_list("amount", flat=True), Decimal(0))


def checks_in_hand() -> QuerySet[Payment]:
    """Taken, not banked and not come back, the oldest first."""
    checks = Payment.objects.filter(method=Payment.Method.CHECK, slip=None, returned_on=None)
    return checks.select_related("payer").order_by("received_on", "number")


def statement_of(payer: Person, *, since: date, until: date) -> Statement:
    """By the books: what moved between us and the payer since a day; ages as of `until`, which is today."""
    rows = Posting.objects.filter(payer=payer, account__in=BETWEEN_US, transaction__day__lte=until)
    events: dict[int, tuple[date, str, Decimal]] = {}
    opening = Decimal(0)
    found = rows.order_by("transaction__day", "transaction", "pk")
    for day, pk, text, amount in found.values_list("transaction__day", "transaction", "transaction__text", "amount"):
        if day < since:
            opening += amount
        else:
            events[pk] = (day, text, amount + (events[pk][2] if pk in events else 0))
    ages = aged(open_invoices(payer, until).values_list("due_on", "open"), until)
    return Statement(since, until, opening, moves_from(opening, events.values()), ages)


def get_payment_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> Payment:
    demand(request, power)
    allocations = Prefetch("allocations", Allocation.objects.select_related("invoice"))
    payment: Payment = get_object_or_404(payments_shown().prefetch_related(allocations), pk=pk)
    return payment


def get_payer_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> Person:
    """The door of somebody's account: anybody may become a payer, so anybody has one."""
    demand(request, power)
    return get_object_or_404(Person, pk=pk)
