"""Exact sums per key: a database may add decimals as floats, so what must agree to the cent is added here."""

from collections import defaultdict
from collections.abc import Hashable, Iterable
from decimal import Decimal
from typing import TypeVar

K = TypeVar("K", bound=Hashable)


def totals(amounts: Iterable[tuple[K, Decimal]]) -> dict[K, Decimal]:
    """Each key with the sum of its amounts; a key that never occurs has 0 (a defaultdict)."""
    found: dict[K, Decimal] = defaultdict(Decimal)
    for key, amount in amounts:
        found[key] += amount
    return found
