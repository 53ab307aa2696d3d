"""What driving comes to by a published rate, over a year in which the rate may fall after so many miles."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.money.rounding import round_money

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Rate:
    """An amount for each unit of distance from a day on; beyond `limit` units of a year `beyond` holds.

    `year_month` and `year_day` say when the year of the limit begins: 1 January, or 6 April in the United Kingdom.
    """

    since: date
    amount: Decimal
    limit: Decimal | None = None
    beyond: Decimal = NOTHING
    year_month: int = 1
    year_day: int = 1

    def year_of(self, day: date) -> date:
        """The first day of the year that the day lies in."""
        first = date(day.year, self.year_month, self.year_day)
        return first if first <= day else first.replace(year=day.year - 1)

    def worth(self, before: Decimal, distance: Decimal) -> Decimal:
        """What `distance` is worth, not rounded, after `before` units driven in its year already."""
        if self.limit is None:
            return distance * self.amount
        within = max(NOTHING, min(distance, self.limit - before))
        return within * self.amount + (distance - within) * self.beyond


@dataclass(frozen=True, slots=True)
class Leg:
    """So far on a day, and who drove: the limit of a year is counted for each driver."""

    day: date
    distance: Decimal
    driver: int = 0


def amounts(
    legs: Iterable[Leg], rates: Iterable[Rate], currency: str, before: Iterable[Leg] = ()
) -> Iterator[Decimal | None]:
    """The amount of each leg, in order of day; None where no rate holds yet.

    Distances of a driver and year are counted together; `before` was driven in its year already, and is worth nothing
    here. Rounded so that the amounts add up to the rounded sum of what they are
    worth, however many they are. Source of the two bands: HMRC Employment Income Manual EIM31350.
    """
    by_day = sorted(rates, key=lambda rate: rate.since, reverse=True)
    driven: dict[tuple[int, date], Decimal] = defaultdict(Decimal)
    for leg in before:
        rate = _rate_on(leg.day, by_day)
        if rate is not None:
            driven[leg.driver, rate.year_of(leg.day)] += leg.distance
    worth = paid = NOTHING
    for leg in legs:
        rate = _rate_on(leg.day, by_day)
        if rate is None:
            yield None
            continue
        year = leg.driver, rate.year_of(leg.day)
        worth += rate.worth(driven[year], leg.distance)
        driven[year] += leg.distance
        due = round_money(worth, currency)
        yield due - paid
        paid = due


def _rate_on(day: date, newest_first: Sequence[Rate]) -> Rate | None:
    return next((rate for rate in newest_first if rate.since <= day), None)
