"""Sessions priced: one price per session, lower from a number of sessions on for all of them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from itertools import repeat


class What(StrEnum):
    """What a line charges for."""

    FULL = "full"
    SPOT = "spot"
    CALL_OUT = "call_out"
    RENT = "rent"
    DELIVERY = "delivery"
    TRAINING = "training"
    FOLLOW_UP = "follow_up"
    COLLECTION = "collection"
    PACKAGE = "package"
    MONTHLY = "monthly"
    DISCOUNT = "discount"
    TAX = "tax"


WHAT_WORDS = {
    What.FULL: "Full body",
    What.SPOT: "Spot",
    What.CALL_OUT: "Call-out",
    What.RENT: "Hire of the machine",
    What.DELIVERY: "Delivery of the machine",
    What.TRAINING: "Training visit",
    What.FOLLOW_UP: "Follow-up visit",
    What.COLLECTION: "Collection of the machine",
    What.PACKAGE: "Package",
    What.MONTHLY: "Plan month",
    What.DISCOUNT: "Discount",
    What.TAX: "Tax",
}


@dataclass(frozen=True, slots=True)
class Break:
    """From `at_least` sessions on, all of them cost `price` each."""

    at_least: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Service:
    """What is sold: hands-on minutes, the price of one session, and all-units quantity breaks in rising order."""

    minutes: int
    price: Decimal
    breaks: tuple[Break, ...] = ()

    @property
    def tiers(self) -> tuple[Break, ...]:
        return (Break(1, self.price), *self.breaks)

    def times(self, horses: int) -> "Service":
        """The same service for so many horses at once."""
        breaks = tuple(Break(tier.at_least, horses * tier.price) for tier in self.breaks)
        return Service(horses * self.minutes, horses * self.price, breaks)

    def price_for(self, count: int) -> Decimal:
        """The price of each session when there are `count`: the last break that is reached applies to all."""
        price = self.price
        for tier in self.breaks:
            if count < tier.at_least:
                break
            price = tier.price
        return price

    def larger_costs_less(self, count: int, call_out: Decimal) -> "Cheaper | None":
        """The larger number that costs least and less than `count` sessions, each with a call-out of its own."""
        quoted = count * (self.price_for(count) + call_out)
        larger = [
            Cheaper(tier.at_least, tier.at_least * (tier.price + call_out), count, quoted)
            for tier in self.breaks
            if tier.at_least > count > 0
        ]
        best = min(larger, key=lambda each: each.cost, default=None)
        return best if best is not None and best.cost < quoted else None


@dataclass(frozen=True, slots=True)
class Cheaper:
    """`count` sessions cost `cost`, less than the `quoted` ones."""

    count: int
    cost: Decimal
    quoted: int
    quoted_cost: Decimal


@dataclass(frozen=True, slots=True)
class Line:
    """`count` charges of one kind and price for a horse: each charge is a tax line of its own.

    `on` holds the dates of the charges (none for a discount or tax), `name` what a package, plan month or discount is
    called. A charge to an owner for several horses names no horse; `falls_on` weighs the horses that it counts for.
    """

    horse: str
    owner: str
    what: What
    count: int
    each: Decimal
    name: str = ""
    on: tuple[date, ...] = ()
    falls_on: tuple[tuple[str, Decimal], ...] = ()

    @property
    def amount(self) -> Decimal:
        return self.count * self.each

    @property
    def words(self) -> str:
        named = f"{WHAT_WORDS[self.what]} ({self.name})" if self.name else WHAT_WORDS[self.what]
        return f"{named}, {self.horse or self.owner}"

    def charges(self) -> Iterator[Decimal]:
        return repeat(self.each, self.count)
