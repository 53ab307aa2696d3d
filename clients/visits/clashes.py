"""Nobody and no machine in two places: which stretch of a day is taken, and the first start that is free."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import time

LAST_MINUTE = 24 * 60
STEP = 5


@dataclass(frozen=True, slots=True)
class Taken:
    """A visit as a stretch of its day, in minutes since midnight (`ends` is not part of it), with what it occupies."""

    starts: int
    ends: int
    animal: int
    barn: int
    practitioner: int
    machine: int | None
    words: str = ""

    def overlaps(self, other: "Taken") -> bool:
        return self.starts < other.ends and other.starts < self.ends


@dataclass(frozen=True, slots=True)
class Clash:
    """What is in two places at once (`practitioner`, `machine` or `animal`), and the stretch it is taken by."""

    what: str
    taken: Taken


def first_clash(wanted: Taken, taken: Iterable[Taken]) -> Clash | None:
    """The first stretch that has the same practitioner, machine or horse at the same time."""
    for other in sorted(taken, key=lambda each: each.starts):
        if not wanted.overlaps(other):
            continue
        if other.practitioner == wanted.practitioner:
            return Clash("practitioner", other)
        if wanted.machine is not None and other.machine == wanted.machine:
            return Clash("machine", other)
        if other.animal == wanted.animal:
            return Clash("animal", other)
    return None


def first_free(
    *,
    taken: Sequence[Taken],
    barn: int,
    minutes: int,
    spans: Sequence[tuple[int, int]],
    gap: int,
) -> int | None:
    """The first start (minutes since midnight, on a step of 5) at which `minutes` fit between what is taken.

    `taken` are one practitioner's stretches; work at another barn stays `gap` minutes away, at the same barn visits
    follow each other. The start lies in one of `spans` (both ends included). Right behind a visit at the same barn is
    preferred, so that visits of one stop stand together. None if nothing fits.
    """
    behind = sorted(each.ends for each in taken if each.barn == barn)
    for start in behind:
        if _fits(start, minutes, barn, taken, gap) and any(opens <= start <= closes for opens, closes in spans):
            return start
    for opens, closes in sorted(spans):
        for start in range(-(-opens // STEP) * STEP, closes + 1, STEP):
            if _fits(start, minutes, barn, taken, gap):
                return start
    return None


def _fits(start: int, minutes: int, barn: int, taken: Iterable[Taken], gap: int) -> bool:
    end = start + minutes
    if end > LAST_MINUTE:
        return False
    for other in taken:
        apart = 0 if other.barn == barn else gap
        if start < other.ends + apart and other.starts < end + apart:
            return False
    return True


def minute_of(at: time) -> int:
    return at.hour * 60 + at.minute


def time_of(minute: int) -> time:
    return time(minute // 60, minute % 60)
