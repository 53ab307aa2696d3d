"""A report as a page draws it: every value in words, with the label that a phone shows beside it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from backoffice.business.models import Business
from backoffice.ui import words
from backoffice.ui.bars import Picture, picture
from billing.reports.report import Column, Kind, Report

BLANK = "–"


class Cell(NamedTuple):
    label: str
    content: str
    is_number: bool


class Line(NamedTuple):
    cells: list[Cell]
    href: str


def say(value: Any, kind: Kind, business: Business) -> str:
    if value is None or value == "":
        return BLANK
    if kind is Kind.MONEY:
        return words.money(value, business)
    if kind is Kind.MINUTES:
        return words.hours(Decimal(round(value)))
    if kind is Kind.DISTANCE:
        return words.distance(round(value), business)
    if kind is Kind.DAY:
        return words.day(value)
    return f"{value}{words.NARROW_SPACE}%" if kind is Kind.PERCENT else str(value)


def lines(report: Report, business: Business) -> list[Line]:
    """Nothing at all stands as a dash, so that the eye finds the figures."""
    return [
        Line(_cells(report.columns, [cell or None for cell in row.cells], business), row.href) for row in report.rows
    ]


def sums(report: Report, business: Business) -> list[Cell]:
    return _cells(report.columns, report.sums, business) if report.sums else []


def heads(report: Report) -> list[Cell]:
    return [Cell(column.label, column.label, is_number(column)) for column in report.columns]


def picture_of(report: Report, business: Business) -> Picture | None:
    if report.drawn is None:
        return None
    kind = report.drawn.kind
    return picture(report.drawn.label, report.figures, lambda value: say(value, kind, business), report.target)


def facts(report: Report, business: Business) -> list[tuple[str, str]]:
    return [(label, say(value, kind, business)) for label, value, kind in report.facts]


def is_number(column: Column) -> bool:
    return column.kind not in (Kind.TEXT, Kind.DAY)


def _cells(columns: Sequence[Column], cells: Sequence[Any], business: Business) -> list[Cell]:
    return [
        Cell(column.label, say(cell, column.kind, business), is_number(column))
        for column, cell in zip(columns, cells, strict=True)
    ]
