"""What it costs to hire a machine, and from how many visits the hire costs less."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from billing.money.pricing import Service
from billing.money.words import say_amount


@dataclass(frozen=True, slots=True)
class HireRates:
    """Prices of a hire. The deposit is paid back and is not a price. Without `collection` the owner returns it."""

    day: Decimal
    week: Decimal
    training: Decimal
    follow_up: Decimal
    delivery: Decimal = Decimal(0)
    deposit: Decimal = Decimal(0)
    collection: Decimal | None = None

    def rent(self, days: int) -> Decimal:
        """Whole weeks, and the days over at the day's price but never above a week: a day more never costs less."""
        weeks, over = divmod(days, 7)
        return weeks * self.week + min(over * self.day, self.week)

    def say_rent(self, days: int, currency: str) -> str:
        """How the rent comes about: “4 weeks at 300.00 and 3 days at 60.00”."""
        weeks, over = divmod(days, 7)
        week, parts = say_amount(self.week, currency), []
        if weeks:
            parts.append(f"{weeks} week{'s' * (weeks > 1)} at {week}")
        if over and over * self.day > self.week:
            parts.append(f"{over} days at the price of a week, {week}")
        elif over:
            parts.append(f"{over} day{'s' * (over > 1)} at {say_amount(self.day, currency)}")
        return " and ".join(parts)

    def alone(self, days: int, follow_ups: int, call_out: Decimal) -> Decimal:
        """Everything for one machine by itself: rent, delivery, and each visit with its call-out.

        The visits are the training, the follow-ups, and the collection, which on a hire of one day is the same stop.
        """
        visits = self.training + follow_ups * self.follow_up + (1 + follow_ups) * call_out
        if self.collection is not None:
            visits += self.collection + (call_out if days > 1 else 0)
        return self.rent(days) + self.delivery + visits


def follow_up_days(start: date, days: int, count: int) -> list[date]:
    """The dates of `count` follow-up visits spread evenly: number i at offset round half up(i × days / (count + 1))."""
    gaps = count + 1
    return [start + timedelta(days=(2 * i * days + gaps) // (2 * gaps)) for i in range(1, gaps)]


def break_even(service: Service, call_out: Decimal, hire: Decimal) -> int | None:
    """The smallest number of visits alone, at the price for that number, that cost more than `hire`.

    None if a visit costs nothing. Source of the rule: Penn State ACCTG 211 §7.2 (133.33 units are 134).
    """
    tiers = service.tiers
    ends = [tier.at_least - 1 for tier in tiers[1:]]
    for tier, last in zip(tiers, [*ends, None], strict=True):
        each = tier.price + call_out
        if each <= 0:
            continue
        count = max(tier.at_least, int(hire // each) + 1)
        if last is None or count <= last:
            return count
    return None
