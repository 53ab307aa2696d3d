"""Published instances with a known best, by the conventions of their collections.

Solomon (1987): distances are cut off after one decimal, so all figures are whole tenths; only distance is counted, and
the number of vehicles is free up to the fleet. Best known for 100 customers: the `.sol` files beside the instances
(PyVRP/VRPLIB). TSPLIB (Reinelt 1991): EUC_2D rounds to the nearest whole, GEO is the great circle of its documentation.
"""

import math
import os
from dataclasses import dataclass
from pathlib import Path

DATA = Path(os.environ.get("SHARED_DATA", Path(__file__).resolve().parents[3] / "shared" / "data"))
TENTHS = 10
# 25 customers, optimal: ../shared/design/rounds.md, but RC105, whose value is from memory.
BEST_OF_25 = {
    "C101": 191.3,
    "C103": 190.3,
    "R101": 617.1,
    "R104": 416.9,
    "RC101": 461.1,
    "RC104": 306.6,
    "RC105": 411.3,
    "RC201": 360.2,
}
# ../shared/design/rounds.md; eil51, st70 and pr76 are from memory.
OPTIMA = {
    "burma14": 3323,
    "ulysses16": 6859,
    "berlin52": 7542,
    "eil51": 426,
    "eil76": 538,
    "kroA100": 21282,
    "st70": 675,
    "pr76": 108159,
}


@dataclass(frozen=True, slots=True)
class Customer:
    demand: int = 0
    opens: int = 0
    closes: int = 10**7
    seconds: int = 0


@dataclass(frozen=True, slots=True)
class Instance:
    """`distance[i][j]` and all times are whole units; `unit` of them make one of the published figure. Place 0 is the
    depot, whose `closes` ends the day."""

    name: str
    distance: list[list[int]]
    customers: list[Customer]
    vehicles: int
    capacity: int
    unit: int
    best_known: float | None


def names() -> list[str]:
    files = [*sorted(DATA.glob("solomon/*.txt")), *sorted(DATA.glob("tsplib/*.tsp"))]
    return [file.stem for file in files]


def read(name: str, customers: int | None = None) -> Instance:
    """The instance, cut to its first customers where a number is given; raises ValueError for an unknown name."""
    solomon, tsplib = DATA / "solomon" / f"{name}.txt", DATA / "tsplib" / f"{name}.tsp"
    if solomon.exists():
        return _solomon(name, solomon.read_text(), customers)
    if tsplib.exists():
        return _tsplib(name, tsplib.read_text(), customers)
    raise ValueError(f"There is no instance {name}; there are {', '.join(names())}.")


def _solomon(name: str, text: str, customers: int | None) -> Instance:
    numbers = [
        [int(word) for word in line.split()]
        for line in text.splitlines()
        if line.split()[:1] and line.split()[0].isdigit()
    ]
    (vehicles, capacity), rows = numbers[0], numbers[1:]
    whole = len(rows) - 1
    rows = rows[: (customers or whole) + 1]
    at = [(row[1], row[2]) for row in rows]
    distance = [[int(TENTHS * math.dist(here, there)) for there in at] for here in at]
    people = [Customer(row[3], TENTHS * row[4], TENTHS * row[5], TENTHS * row[6]) for row in rows]
    best = {whole: _cost_of(name), 25: BEST_OF_25.get(name)}.get(len(rows) - 1)
    return Instance(name, distance, people, vehicles, capacity, TENTHS, best)


def _cost_of(name: str) -> float:
    return float((DATA / "solomon" / f"{name}.sol").read_text().split("Cost")[1])


def _tsplib(name: str, text: str, customers: int | None) -> Instance:
    header, _, body = text.partition("NODE_COORD_SECTION")
    lines = (line.split() for line in body.splitlines())
    at = [(float(line[1]), float(line[2])) for line in lines if len(line) == 3]
    whole = len(at) - 1
    at = at[: (customers or whole) + 1]
    length = _great_circle if "GEO" in header.split("EDGE_WEIGHT_TYPE")[1].split("\n")[0] else _nearest
    distance = [[0 if here is there else length(here, there) for there in at] for here in at]
    best = OPTIMA[name] if len(at) - 1 == whole else None
    return Instance(name, distance, [Customer()] * len(at), 1, len(at), 1, best)


def _nearest(here: tuple[float, float], there: tuple[float, float]) -> int:
    return int(math.dist(here, there) + 0.5)


def _great_circle(here: tuple[float, float], there: tuple[float, float]) -> int:
    """TSPLIB 95, section 2.4: degrees and minutes, a radius of 6378.388 km and pi as 3.141592."""
    (lat, lon), (to_lat, to_lon) = [tuple(map(_radians, point)) for point in (here, there)]
    q1, q2, q3 = math.cos(lon - to_lon), math.cos(lat - to_lat), math.cos(lat + to_lat)
    return int(6378.388 * math.acos(0.5 * ((1 + q1) * q2 - (1 - q1) * q3)) + 1)


def _radians(degrees: float) -> float:
    whole = int(degrees)
    return 3.141592 * (whole + 5 * (degrees - whole) / 3) / 180
