"""The week at a glance: each day's work, and around it the money that moved and what comes next."""

from collections import Counter, defaultdict
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Sum
from django.urls import reverse

from backoffice.ui.words import day as say_day
from billing.invoices.models import Invoice
from billing.invoices.queries import owed_invoices
from billing.money.rounding import round_money
from billing.money.worked_hour import Hours, per_hour
from billing.reports.money import money_in
from billing.reports.report import Column, Kind, Report, Row, summed
from billing.reports.work import Work
from clients.visits.models import Visit
from clients.visits.queries import DONE, OPEN

WEEK = timedelta(days=7)
COLUMNS = (
    Column("Day"),
    Column("Done", Kind.COUNT, is_summed=True),
    Column("To come", Kind.COUNT, is_summed=True),
    Column("Cancelled", Kind.COUNT, is_summed=True),
    Column("Hands-on", Kind.MINUTES, is_summed=True),
    Column("Driving", Kind.MINUTES, is_summed=True),
    Column("Hours in all", Kind.MINUTES, is_drawn=True, is_summed=True),
    Column("Driven", Kind.DISTANCE, is_summed=True),
)
BROUGHT = (Column("Brought", Kind.MONEY, is_summed=True), Column("An hour", Kind.MONEY))


def week(work: Work, monday: date, *, on: date, currency: str, with_margins: bool) -> Report:
    """`work` is that of the week. What was earned is told only `with_margins`."""
    counts = _counts(monday, monday + WEEK - timedelta(days=1))
    hours: dict[date, Hours] = defaultdict(Hours)
    money: dict[date, Fraction] = defaultdict(Fraction)
    vehicle: dict[date, Fraction] = defaultdict(Fraction)
    for row in work.rows:
        hours[row.visit.day] += row.hours
        money[row.visit.day] += row.money
        vehicle[row.visit.day] += row.vehicle
    rows = []
    for place in range(7):
        day = monday + timedelta(days=place)
        found, count = hours[day], counts[day]
        cells = [
            say_day(day, today=day),
            sum(count[state] for state in DONE),
            sum(count[state] for state in OPEN),
            count[Visit.Status.CANCELLED],
            found.hands_on,
            found.driving,
            found.minutes,
            found.metres,
        ]
        if with_margins:
            cells += [round_money(money[day], currency), per_hour(money[day], vehicle[day], found.minutes, currency)]
        rows.append(Row(tuple(cells), f"{reverse('clients:diary')}?week={day:%G-W%V}"))
    columns = (*COLUMNS, *(BROUGHT if with_margins else ()))
    sums = summed(columns, rows)
    if with_margins:
        whole = sum((found.minutes for found in hours.values()), Fraction(0))
        brought, driven = sum(money.values(), Fraction(0)), sum(vehicle.values(), Fraction(0))
        sums = (*sums[:-1], per_hour(brought, driven, whole, currency))
    return Report(columns, tuple(rows), sums, facts=_facts(monday, on))


def _counts(first: date, last: date) -> dict[date, Counter[str]]:
    found: dict[date, Counter[str]] = defaultdict(Counter)
    for day, status in Visit.objects.filter(day__range=(first, last)).values_list("day", "status"):
        found[day][status] += 1
    return found


def _facts(monday: date, on: date) -> tuple[tuple[str, Decimal | int, Kind], ...]:
    span = (monday, monday + WEEK - timedelta(days=1))
    issued = Invoice.objects.exclude(state=Invoice.State.DRAFT).filter(issued_on__range=span, brought_as="")
    paid = money_in(*span)
    owed = owed_invoices().values_list("open", flat=True)
    ahead = Visit.objects.filter(day__range=(monday + WEEK, monday + 2 * WEEK - timedelta(days=1)), status__in=OPEN)
    nothing = Decimal(0)
    return (
        ("Invoiced", issued.aggregate(sum=Sum("total"))["sum"] or nothing, Kind.MONEY),
        ("Received", paid.aggregate(sum=Sum("amount"))["sum"] or nothing, Kind.MONEY),
        ("Unpaid now", sum(owed, nothing), Kind.MONEY),
        ("Visits the week after", ahead.count(), Kind.COUNT),
    )
