"""What a report is: columns, rows, sums and one picture. Pure; a page, a CSV and an XLSX file are drawn from it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any


class Kind(StrEnum):
    TEXT = "text"
    COUNT = "count"
    MONEY = "money"
    MINUTES = "minutes"
    DISTANCE = "distance"  # in metres
    DAY = "day"
    PERCENT = "percent"  # a whole number


@dataclass(frozen=True, slots=True)
class Column:
    """One of the columns is `drawn`; `is_summed` says that its sum means something."""

    label: str
    kind: Kind = Kind.TEXT
    is_drawn: bool = False
    is_summed: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """`href` leads from the first cell to what the row is made of."""

    cells: tuple[Any, ...]
    href: str = ""


@dataclass(frozen=True, slots=True)
class Report:
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    sums: tuple[Any, ...] = ()
    notes: tuple[str, ...] = ()
    nothing: str = "Nothing in this time."
    target: Decimal | None = None
    facts: tuple[tuple[str, Any, Kind], ...] = ()

    @property
    def drawn(self) -> Column | None:
        return next((column for column in self.columns if column.is_drawn), None)

    @property
    def figures(self) -> list[tuple[str, Any]]:
        """Of each row its first cell and what is drawn of it."""
        place = self.columns.index(self.drawn) if self.drawn else 0
        return [(str(row.cells[0]), row.cells[place]) for row in self.rows] if place else []


def summed(columns: Sequence[Column], rows: Sequence[Row], label: str = "In all") -> tuple[Any, ...]:
    """The sums of the summed columns, None in the others; nothing for fewer than two rows."""
    if len(rows) < 2:
        return ()
    cells: list[Any] = [label]
    for place, column in enumerate(columns[1:], start=1):
        values = [row.cells[place] for row in rows if row.cells[place] is not None]
        cells.append(sum(values[1:], values[0]) if column.is_summed and values else None)
    return tuple(cells)


def plain(value: Any, kind: Kind, metres_in_unit: Decimal) -> Any:
    """A cell as a spreadsheet takes it: hours and distances as numbers."""
    if value is None:
        return ""
    if kind is Kind.DAY and isinstance(value, date):
        return value.isoformat()
    if kind is Kind.DISTANCE:
        return round(Decimal(round(value)) / metres_in_unit, 1)
    if kind is Kind.MINUTES:
        return round(value)
    return value if isinstance(value, int | Decimal) else str(value)
