"""The price of driving to a stop, and each horse's part of it."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

from billing.money.shares import split_amount


class Split(StrEnum):
    """Who shares a call-out: nobody, the horses seen at the stop, or first their owners."""

    NONE = "none"
    HORSE = "horse"
    OWNER = "owner"


@dataclass(frozen=True, slots=True)
class CallOut:
    """A flat amount for each stop, and how it is split."""

    amount: Decimal = Decimal(0)
    split: Split = Split.NONE


@lru_cache(maxsize=4096)
def call_out_parts(call_out: CallOut, owners: tuple[str, ...], currency: str) -> tuple[Decimal, ...]:
    """Each horse's part of one stop's call-out; `owners` names the owner of each horse, in the stated order.

    Split `none`: each horse pays all. `horse`: equal parts. `owner`: equal parts per owner (in the order in which
    they first appear), then equal parts per horse of that owner. The parts of a split add up to the amount.
    """
    if call_out.split == Split.NONE or not owners:
        return (call_out.amount,) * len(owners)
    if call_out.split == Split.HORSE:
        return tuple(split_amount(call_out.amount, [1] * len(owners), currency))
    horses = Counter(owners)
    by_owner = split_amount(call_out.amount, [1] * len(horses), currency)
    waiting: dict[str, Iterator[Decimal]] = {
        owner: iter(split_amount(part, [1] * horses[owner], currency))
        for owner, part in zip(horses, by_owner, strict=True)
    }
    return tuple(next(waiting[owner]) for owner in owners)


def most_it_can_cost(call_out: CallOut, owners: Sequence[str], currency: str) -> tuple[Decimal, ...]:
    """Each horse's part if nobody but the horse's own owner had a horse at the stop: what an owner is promised."""
    alone: dict[str, Iterator[Decimal]] = {
        owner: iter(call_out_parts(call_out, (owner,) * count, currency)) for owner, count in Counter(owners).items()
    }
    return tuple(next(alone[owner]) for owner in owners)


def shared(split: Split) -> Split:
    """How the charges of one machine are split over its horses: like a call-out, but never paid in full by each."""
    return Split.HORSE if split == Split.NONE else split
