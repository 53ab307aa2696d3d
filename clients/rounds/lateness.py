"""What running late does to the rest of a day: waiting and gaps take it up, promised work does not get shorter."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Leg:
    """A stop still to be made, in minutes after midnight; `slack` is the free time before it, lunch not counted."""

    key: int
    starts: int
    slack: int


@dataclass(frozen=True, slots=True)
class Delay:
    key: int
    starts: int
    minutes: int


def delayed(legs: Sequence[Leg], late: int) -> list[Delay]:
    """The new start of each leg in order, when the first of them is reached `late` minutes after its time.

    Free time before a later stop takes up what it can; the rest goes on to the next. Raises ValueError below nothing.
    """
    if late < 0:
        raise ValueError("Nobody is late by less than nothing.")
    delays, carried = [], late
    for number, leg in enumerate(legs):
        if number:
            carried = max(0, carried - leg.slack)
        delays.append(Delay(leg.key, leg.starts + carried, carried))
    return delays
