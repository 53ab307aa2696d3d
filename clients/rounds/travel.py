"""How long and how far it is from place to place.

`RoadTimes` is the one interface: whatever can answer it (an estimate, a road engine) can be set in its place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

METRES_IN_A_MILE = 1609.344
DEFAULT_CIRCUITY = 1.3
DEFAULT_SPEED_MPH = 38.0


@dataclass(frozen=True, slots=True)
class Place:
    """A point in degrees north and east (WGS84), and the seconds every drive to or from it takes beyond
    the speed of the road: a gravel lane, gates, a town."""

    latitude: float
    longitude: float
    extra_seconds: int = 0


@dataclass(frozen=True, slots=True)
class TravelTable:
    """`seconds[i][j]` and `metres[i][j]` from place i to place j, whole and rounded up.

    `source` is "estimate" or "road", for a log that must tell them apart; `notice` why it is not what was set.
    """

    seconds: tuple[tuple[int, ...], ...]
    metres: tuple[tuple[int, ...], ...]
    source: str
    notice: str = ""


class RoadTimes(Protocol):
    def table(self, places: Sequence[Place]) -> TravelTable: ...


@dataclass(frozen=True, slots=True)
class StraightLine:
    """The estimate that needs no network: the geodesic times `circuity`, driven at `speed_mph`.

    Raises ValueError for a speed or circuity that is not above zero.
    """

    circuity: float = DEFAULT_CIRCUITY
    speed_mph: float = DEFAULT_SPEED_MPH

    def __post_init__(self) -> None:
        if not (0 < self.circuity < math.inf and 0 < self.speed_mph < math.inf):
            raise ValueError("Speed and circuity are numbers above zero.")

    def table(self, places: Sequence[Place]) -> TravelTable:
        """Drives both ways alike. Rounding up keeps a way by a third place from looking shorter."""
        lines = geodesic_metres(places)
        metres = tuple(tuple(math.ceil(line * self.circuity) for line in row) for row in lines)
        metres_a_second = self.speed_mph * METRES_IN_A_MILE / 3600
        seconds = tuple(
            tuple(
                math.ceil(line * self.circuity / metres_a_second) + here.extra_seconds + there.extra_seconds
                if line
                else 0
                for line, there in zip(row, places, strict=True)
            )
            for row, here in zip(lines, places, strict=True)
        )
        return TravelTable(seconds, metres, source="estimate")


def geodesic_metres(places: Sequence[Place]) -> list[list[float]]:
    """The shortest line over the WGS84 ellipsoid between all places, in metres."""
    from pyproj import Geod

    geod = Geod(ellps="WGS84")
    lines = [[0.0] * len(places) for _ in places]
    for i, here in enumerate(places):
        for j in range(i):
            there = places[j]
            _, _, line = geod.inv(here.longitude, here.latitude, there.longitude, there.latitude)
            lines[i][j] = lines[j][i] = float(line)
    return lines
