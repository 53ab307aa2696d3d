"""Sessions paid in advance at one price, and which sessions use them up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Package:
    """So many sessions of each service for one price; with `days`, it ends that many days after its first."""

    name: str
    price: Decimal
    sessions: Mapping[str, int]
    days: int | None = None

    def holds_on(self, on: date, sold: date) -> bool:
        """Whether it may still be used: with 30 days, on the day it is sold and the 29 after it."""
        return self.days is None or on < sold + timedelta(days=self.days)


def use_up(packages: Sequence[Package], sessions: Sequence[tuple[date, str]], sold: date) -> list[int | None]:
    """For each session (date and service, in the order in which they are used), the place of the package that pays it.

    The first package, in the stated order, that still holds on that day and has a session of that service left; None
    where there is none.
    """
    left = [dict(package.sessions) for package in packages]
    used: list[int | None] = []
    for on, service in sessions:
        found = next(
            (
                place
                for place, package in enumerate(packages)
                if left[place].get(service, 0) > 0 and package.holds_on(on, sold)
            ),
            None,
        )
        if found is not None:
            left[found][service] -= 1
        used.append(found)
    return used
