"""What a payer was asked and gave over a time, and how old what is open is. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Move:
    """One event between us and the payer: above zero they owe more; `balance` is what they owe after it."""

    day: date
    text: str
    amount: Decimal
    balance: Decimal


@dataclass(frozen=True, slots=True)
class Ages:
    """What is open by days past its due day: not due yet, 1 to 30, 31 to 60, 61 to 90, more (a convention of the trade
    of bookkeeping)."""

    current: Decimal = NOTHING
    to_30: Decimal = NOTHING
    to_60: Decimal = NOTHING
    to_90: Decimal = NOTHING
    older: Decimal = NOTHING

    @property
    def total(self) -> Decimal:
        return self.current + self.to_30 + self.to_60 + self.to_90 + self.older


@dataclass(frozen=True, slots=True)
class Statement:
    """From `since` to `until`; below zero is credit."""

    since: date
    until: date
    opening: Decimal
    moves: Sequence[Move]
    ages: Ages

    @property
    def closing(self) -> Decimal:
        return self.moves[-1].balance if self.moves else self.opening


def moves_from(opening: Decimal, events: Iterable[tuple[date, str, Decimal]]) -> list[Move]:
    """Each event with the balance after it; what moves nothing between us and the payer is left out."""
    balance, moves = opening, []
    for day, text, amount in events:
        if amount:
            balance += amount
            moves.append(Move(day, text, amount, balance))
    return moves


def aged(open_parts: Iterable[tuple[date, Decimal]], on: date) -> Ages:
    """(due day, open part) of each invoice, by how long it is due on that day."""
    sums = dict.fromkeys(("current", "to_30", "to_60", "to_90", "older"), NOTHING)
    for due_on, part in open_parts:
        sums[_age((on - due_on).days)] += part
    return Ages(**sums)


def _age(days_late: int) -> str:
    limits = ((0, "current"), (30, "to_30"), (60, "to_60"), (90, "to_90"))
    return next((name for limit, name in limits if days_late <= limit), "older")
