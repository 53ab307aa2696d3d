from calendar import monthrange
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby

from backoffice.business.models import Business
from backoffice.ui.words import METERS_IN
from billing.money.mileage import Leg, Rate, amounts
from billing.prices.rules import MileageRate
from billing.starting.models import MilesBefore
from clients.miles.models import Trip
from clients.miles.queries import trips

TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Line:
    """One trip with its distance in the business's unit and what it is worth; None where no rate holds."""

    trip: Trip
    distance: Decimal
    amount: Decimal | None


@dataclass(frozen=True, slots=True)
class Month:
    first: date
    distance: Decimal
    amount: Decimal
    trips: int

    @property
    def last(self) -> date:
        return self.first.replace(day=monthrange(self.first.year, self.first.month)[1])


@dataclass(frozen=True, slots=True)
class Year:
    """The log of a tax year, trip by trip, and summed by month. The bands of a rate count all that is driven in it."""

    first: date
    last: date
    lines: tuple[Line, ...]
    rates: tuple[MileageRate, ...]

    @property
    def distance(self) -> Decimal:
        return sum((line.distance for line in self.lines), Decimal(0))

    @property
    def amount(self) -> Decimal:
        return sum((line.amount or Decimal(0) for line in self.lines), Decimal(0))

    @property
    def without_rate(self) -> int:
        return sum(line.amount is None for line in self.lines)

    def months(self) -> Iterator[Month]:
        for first, group in groupby(self.lines, key=lambda line: line.trip.day.replace(day=1)):
            lines = list(group)
            distance = sum((line.distance for line in lines), Decimal(0))
            yield Month(first, distance, sum((line.amount or Decimal(0) for line in lines), Decimal(0)), len(lines))


def year_around(day: date) -> tuple[date, date]:
    """First and last day of the tax year of that day, by the rate that holds on it; else the calendar year."""
    rate = MileageRate.objects.filter(since__lte=day).first() or MileageRate.objects.last()
    pure = as_pure(rate) if rate else Rate(day, Decimal(0))
    first = pure.year_of(day)
    return first, date.fromordinal(first.replace(year=first.year + 1).toordinal() - 1)


def year_of_miles(first: date, last: date, business: Business, *, confirmed: bool = False) -> Year:
    """Three queries, however long the log. `confirmed` leaves out what no odometer has confirmed."""
    rates = list(MileageRate.objects.all())
    driven = trips().filter(day__gte=first, day__lte=last)
    rows = list((driven.filter(measured=Trip.Measure.ODOMETER) if confirmed else driven).order_by("day", "pk"))
    return Year(first, last, tuple(_lines(rows, rates, business)), tuple(rates))


def _lines(rows: Sequence[Trip], rates: Sequence[MileageRate], business: Business) -> Iterator[Line]:
    distances = [(Decimal(row.metres) / METERS_IN[business.distance_unit]).quantize(TENTH) for row in rows]
    legs = [Leg(row.day, distance, row.driver_id) for row, distance in zip(rows, distances, strict=True)]
    worth = amounts(legs, [as_pure(rate) for rate in rates], business.currency, _driven_before())
    for row, distance, amount in zip(rows, distances, worth, strict=True):
        yield Line(row, distance, amount)


def _driven_before() -> Iterator[Leg]:
    """What each driver had driven in the tax year of the first day, before it."""
    for row in MilesBefore.objects.select_related("start"):
        yield Leg(row.start.day, row.distance, row.driver_id)


def as_pure(rate: MileageRate) -> Rate:
    month, day = (int(part) for part in rate.year_starts.split("-"))
    limit = None if rate.limit is None else Decimal(rate.limit)
    return Rate(rate.since, rate.amount, limit, rate.beyond, year_month=month, year_day=day)
