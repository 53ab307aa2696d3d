"""A price a month for so many sessions: months counted from the first day, a part month by days."""

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from billing.money.rounding import round_money


@dataclass(frozen=True, slots=True)
class Month:
    """A plan month from `first` on; `days` of its `whole` days are in the term."""

    first: date
    days: int
    whole: int

    @property
    def end(self) -> date:
        """The day after its last in the term."""
        return self.first + timedelta(days=self.days)

    @property
    def part(self) -> Fraction:
        return Fraction(self.days, self.whole)


@dataclass(frozen=True, slots=True)
class MonthlyPlan:
    """`price` a month for so many `sessions` of each service; more cost the price of `beyond`, else the list price."""

    name: str
    price: Decimal
    sessions: Mapping[str, int]
    beyond: Mapping[str, Decimal] = field(default_factory=dict)

    def price_of(self, month: Month, currency: str) -> Decimal:
        """The price of a month; a part month by days, half up."""
        return round_money(Fraction(self.price) * month.part, currency)

    def included(self, service: str, month: Month) -> int:
        """How many sessions of a service a month holds; a part month in the same proportion, half up."""
        held = self.sessions.get(service, 0) * month.part
        return int(held + Fraction(1, 2))


def month_after(start: date, count: int) -> date:
    """The first day of plan month number `count` (from 0): the same day of a later month, or its last day."""
    years, month = divmod(start.month - 1 + count, 12)
    year = start.year + years
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def plan_months(start: date, days: int) -> tuple[Month, ...]:
    """The months of a term of `days` days, counted from its start: 31 Jan, 28 Feb, 31 Mar."""
    end = start + timedelta(days=days)
    months: list[Month] = []
    first = start
    while first < end:
        following = month_after(start, len(months) + 1)
        months.append(Month(first, (min(following, end) - first).days, (following - first).days))
        first = following
    return tuple(months)
