"""What came in month by month, what is unpaid, what was waived, and what is owed in work."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import F, QuerySet
from django.urls import reverse

from billing.invoices.models import Charge, CreditNote, Invoice
from billing.invoices.queries import owed_invoices
from billing.journal.queries import first_of_next
from billing.packages.sold import PackageSold, PlanMonth
from billing.payments.models import Payment, Refund
from billing.reports.report import Column, Kind, Report, Row, summed
from billing.vouchers.models import Voucher

NOTHING, ONE_DAY = Decimal(0), timedelta(days=1)
BUCKETS = ((0, "Not due"), (30, "1 to 30 days"), (60, "31 to 60"), (90, "61 to 90"), (None, "Over 90"))
INCOME = (
    Column("Month"),
    Column("Invoiced before tax", Kind.MONEY, is_drawn=True, is_summed=True),
    Column("Tax", Kind.MONEY, is_summed=True),
    Column("Received", Kind.MONEY, is_summed=True),
    Column("Given back", Kind.MONEY, is_summed=True),
)
UNPAID = (
    Column("Payer"),
    *(Column(words, Kind.MONEY, is_summed=True) for _, words in BUCKETS),
    Column("In all", Kind.MONEY, is_drawn=True, is_summed=True),
)
WAIVED = (
    Column("What"),
    Column("Day", Kind.DAY),
    Column("Horse"),
    Column("Why"),
    Column("By"),
    Column("Amount", Kind.MONEY, is_summed=True),
)
PREPAID = (
    Column("What"),
    Column("Payer"),
    Column("Since", Kind.DAY),
    Column("Until", Kind.DAY),
    Column("Paid before tax", Kind.MONEY, is_summed=True),
    Column("Earned", Kind.MONEY, is_summed=True),
    Column("Owed in work", Kind.MONEY, is_drawn=True, is_summed=True),
)


def months_between(since: date, until: date) -> Iterator[tuple[date, date]]:
    """The months of a time, the first and the last cut to it."""
    first = since
    while first <= until:
        following = first_of_next(first)
        yield first, min(following - ONE_DAY, until)
        first = following


def money_in(since: date, until: date) -> QuerySet[Payment]:
    """Payments that brought money: none of before these books, none by a voucher that was paid for earlier."""
    paid = Payment.objects.filter(received_on__range=(since, until), returned_on=None)
    return paid.exclude(method__in=(Payment.Method.BROUGHT, Payment.Method.VOUCHER))


def income(since: date, until: date) -> Report:
    """Issued papers by their date, payments by the day they came in; four queries."""
    span = (since, until)
    issued = Invoice.objects.exclude(state=Invoice.State.DRAFT).filter(issued_on__range=span, brought_as="")
    notes = CreditNote.objects.filter(issued_on__range=span)
    papers: list[Any] = [*issued.values_list("issued_on", "net", "tax")]
    papers += [(day, -net, -tax) for day, net, tax in notes.values_list("issued_on", "net", "tax")]
    paid = money_in(since, until)
    net, tax = _by_month((day, net) for day, net, _ in papers), _by_month((day, tax) for day, _, tax in papers)
    received = _by_month(paid.values_list("received_on", "amount"))
    back = _by_month(Refund.objects.filter(given_on__range=span).values_list("given_on", "amount"))
    rows = tuple(
        Row(
            (f"{first:%B %Y}", *(sums[first.replace(day=1)] for sums in (net, tax, received, back))),
            f"{reverse('billing:year-report')}?since={first}&until={last}&basis=received",
        )
        for first, last in months_between(since, until)
    )
    if not any(cell for row in rows for cell in row.cells[1:]):
        rows = ()
    words = ("Invoices less credit notes, by their date; payments by the day they came in, tips among them.",)
    return Report(INCOME, rows, summed(INCOME, rows), words, nothing="Nothing was invoiced or paid in this time.")


def _by_month(amounts: Iterable[tuple[date, Decimal]]) -> dict[date, Decimal]:
    sums: dict[date, Decimal] = defaultdict(Decimal)
    for day, amount in amounts:
        sums[day.replace(day=1)] += amount
    return sums


def unpaid(on: date) -> Report:
    """What each payer owes, by how long it is late; one query."""
    owed: dict[tuple[str, int], list[Decimal]] = defaultdict(lambda: [NOTHING] * len(BUCKETS))
    found = owed_invoices()
    for name, payer, due_on, open_part in found.values_list("payer__name", "payer", "due_on", "open"):
        owed[name, payer][_bucket((on - due_on).days)] += open_part
    rows = tuple(
        Row((name, *parts, sum(parts, NOTHING)), reverse("billing:payer", args=[payer]))
        for (name, payer), parts in sorted(owed.items(), key=lambda each: -sum(each[1]))
    )
    return Report(UNPAID, rows, summed(UNPAID, rows), nothing="Nobody owes anything.")


def _bucket(days_late: int) -> int:
    for place, (most, _) in enumerate(BUCKETS):
        if most is None or days_late <= most:
            return place
    raise AssertionError(days_late)


def waived(since: date, until: date) -> Report:
    found = Charge.objects.filter(state=Charge.State.WAIVED, work_day__range=(since, until))
    found = found.select_related("animal", "visit", "session__visit", "confirmed_by").order_by("work_day", "pk")
    rows = tuple(
        Row(
            (
                charge.text,
                charge.work_day,
                str(charge.animal or ""),
                charge.waived_reason,
                str(charge.confirmed_by),
                charge.amount,
            ),
            _work_of(charge),
        )
        for charge in found
    )
    return Report(WAIVED, rows, summed(WAIVED, rows), nothing="Nothing was waived in this time.")


def _work_of(charge: Charge) -> str:
    visit = charge.session.visit if charge.session else charge.visit
    return reverse("clients:visit", args=[visit.pk]) if visit else ""


def prepaid() -> Report:
    """Packages, plan months and vouchers of which something is not earned yet; four queries."""
    packages = PackageSold.objects.filter(earned__lt=F("net")).select_related("payer").order_by("sold_on", "pk")
    months = PlanMonth.objects.filter(earned__lt=F("net")).select_related("run__animal").order_by("pk")
    vouchers = Voucher.objects.filter(earned__lt=F("net")).select_related("payer").order_by("sold_on", "pk")
    rows = [
        *(_owed(one, one.payer, one.sold_on, one.ends_on, one.get_absolute_url()) for one in packages),
        *(_owed(one, one.run.animal, one.first, one.end - ONE_DAY, one.run.get_absolute_url()) for one in months),
        *(_owed(one, one.payer, one.sold_on, one.ends_on, reverse("billing:vouchers")) for one in vouchers),
    ]
    words = ("Money that was invoiced for work still to come: it is owed, not earned.",)
    return Report(PREPAID, tuple(rows), summed(PREPAID, rows), words, nothing="No work is owed to anybody.")


def _owed(prepaid: PackageSold | PlanMonth | Voucher, whose: object, since: date, until: date | None, href: str) -> Row:
    return Row((str(prepaid), str(whose), since, until, prepaid.net, prepaid.earned, prepaid.unearned), href)
