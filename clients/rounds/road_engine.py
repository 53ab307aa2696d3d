"""Drives by road from an engine at an address of the practitioner: its table interface, asked once for all places.

Two open interfaces are spoken: the `table` service of OSRM (GET) and `sources_to_targets` of Valhalla (POST).
"""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from http.client import HTTPException
from typing import Any
from urllib.error import URLError
from urllib.request import Request, urlopen

from clients.rounds.travel import Place, TravelTable

SECONDS_TO_WAIT = 4
LONGEST_ANSWER = 8_000_000


class EngineFailed(Exception):
    """The engine gave no whole table; the sentence says what it gave instead."""


class Interface(StrEnum):
    OSRM = "osrm"
    VALHALLA = "valhalla"


@dataclass(frozen=True, slots=True)
class RoadEngine:
    """An engine by its kind and base address (http or https), such as http://roads.example:5000."""

    interface: Interface
    address: str

    def table(self, places: Sequence[Place]) -> TravelTable:
        """Drives as the engine gives them, rounded up, with the extra seconds of both places. Raises EngineFailed."""
        if len(places) < 2:
            return TravelTable(((0,),) * len(places), ((0,),) * len(places), source="road")
        answer = _asked(self._request(places))
        read = _read_osrm if self.interface is Interface.OSRM else _read_valhalla
        try:
            seconds, metres = read(answer)
            cells = [[_cell(seconds, metres, i, j, places) for j in range(len(places))] for i in range(len(places))]
        except (KeyError, IndexError, TypeError, ValueError) as error:
            raise EngineFailed("its answer is no whole table") from error
        return TravelTable(
            tuple(tuple(second for second, _ in row) for row in cells),
            tuple(tuple(metre for _, metre in row) for row in cells),
            source="road",
        )

    def _request(self, places: Sequence[Place]) -> Request:
        base = self.address.rstrip("/")
        if self.interface is Interface.OSRM:
            way = ";".join(f"{place.longitude:.6f},{place.latitude:.6f}" for place in places)
            return Request(f"{base}/table/v1/driving/{way}?annotations=duration,distance")  # noqa: S310
        points = [{"lat": place.latitude, "lon": place.longitude} for place in places]
        asked = {"sources": points, "targets": points, "costing": "auto", "units": "kilometers"}
        said = json.dumps(asked).encode()
        return Request(f"{base}/sources_to_targets", said, {"Content-Type": "application/json"})  # noqa: S310


def _asked(request: Request) -> Any:
    try:
        with urlopen(request, timeout=SECONDS_TO_WAIT) as answer:  # noqa: S310
            content = answer.read(LONGEST_ANSWER + 1)
    except (URLError, HTTPException, OSError) as error:
        raise EngineFailed(f"it did not answer ({getattr(error, 'reason', error)})") from error
    if len(content) > LONGEST_ANSWER:
        raise EngineFailed("its answer is too long")
    try:
        return json.loads(content)
    except ValueError as error:
        raise EngineFailed("its answer is not JSON") from error


Cells = list[list[Any]]


def _read_osrm(answer: Any) -> tuple[Cells, Cells]:
    """`durations` in seconds, `distances` in metres."""
    return answer["durations"], answer["distances"]


def _read_valhalla(answer: Any) -> tuple[Cells, Cells]:
    """`time` in seconds and `distance` in kilometres, in each cell of the table."""
    rows = answer["sources_to_targets"]
    return (
        [[cell["time"] for cell in row] for row in rows],
        [[1000 * cell["distance"] for cell in row] for row in rows],
    )


def _cell(seconds: Cells, metres: Cells, i: int, j: int, places: Sequence[Place]) -> tuple[int, int]:
    """Raises TypeError for a cell without a way, ValueError for one that is no drive."""
    if i == j:
        return (0, 0)
    found = (float(seconds[i][j]), float(metres[i][j]))
    if not all(0 <= each < math.inf for each in found):
        raise ValueError(found)
    extra = places[i].extra_seconds + places[j].extra_seconds if found[1] else 0
    return (math.ceil(found[0]) + extra, math.ceil(found[1]))
