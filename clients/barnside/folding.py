"""What several devices wrote on one sheet, put together: per area and per field, the later entry counts.

Pure: entries in, one sheet out, whatever order they came in.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

SHEET_KINDS = ("arrival", "areas", "how")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the kinds that fill a sheet. `key` is the entry's own id, `phone` the device that made it."""

    key: str
    at: datetime
    phone: int
    kind: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Clash:
    """The same place on the sheet was filled differently by two devices. `late` counts; both are shown."""

    what: str
    early: Entry
    was: Any
    late: Entry
    now: Any


@dataclass(frozen=True, slots=True)
class Sheet:
    """`areas` by name, each with minutes, applicator, setting and reaction; `arrival` and `how` by field."""

    arrival: dict[str, Any] = field(default_factory=dict)
    areas: dict[str, dict[str, Any]] = field(default_factory=dict)
    how: dict[str, Any] = field(default_factory=dict)
    clashes: tuple[Clash, ...] = ()


def fold(entries: Iterable[Entry]) -> Sheet:
    """Every cell has the value of the latest entry that names it; an area with no minutes is taken out.

    Two devices that filled a cell differently are told as a clash, unless the later one then agreed.
    """
    cells: dict[tuple[str, str], tuple[Entry, Any]] = {}
    clashes: dict[tuple[str, str], Clash] = {}
    for entry in sorted(entries, key=lambda each: (each.at, each.key)):
        for place, value in _cells(entry):
            before = cells.get(place)
            if before is not None and before[0].phone != entry.phone and before[1] != value:
                clashes[place] = Clash(_words(place), *before, entry, value)
            elif place in clashes:
                clashes = _thought_again(clashes, place, entry, value)
            cells[place] = (entry, value)
    return Sheet(
        arrival={name: value for (kind, name), (_, value) in cells.items() if kind == "arrival"},
        areas={name: value for (kind, name), (_, value) in cells.items() if kind == "areas" and value["minutes"]},
        how={name: value for (kind, name), (_, value) in cells.items() if kind == "how"},
        clashes=tuple(clashes.values()),
    )


def _thought_again(
    clashes: dict[tuple[str, str], Clash], place: tuple[str, str], entry: Entry, value: Any
) -> dict[tuple[str, str], Clash]:
    """The device that came last changed its word: agreed now, or still different from the other's."""
    clash = clashes[place]
    if clash.was == value:
        return {other: each for other, each in clashes.items() if other != place}
    return {**clashes, place: replace(clash, late=entry, now=value)}


def _cells(entry: Entry) -> list[tuple[tuple[str, str], Any]]:
    if entry.kind == "areas":
        return [(("areas", row["area"]), {**row}) for row in entry.values["areas"]]
    return [((entry.kind, name), value) for name, value in entry.values.items()]


def _words(place: tuple[str, str]) -> str:
    return place[1].replace("_", " ").capitalize()
