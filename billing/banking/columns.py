"""A bank's table (CSV): which column is what is chosen once, and known by its heading from then on. Pure."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from billing.banking.lines import BadFile, BankMove, Reading, words
from billing.banking.plain import DayOrder, amount_of, day_of

DELIMITERS = ",;\t|"
GUESSES: Mapping[str, Sequence[str]] = {
    "day": ("date", "booking", "posted", "posting", "buchung", "day"),
    "amount": ("amount", "betrag", "value"),
    "paid_in": ("paid in", "credit", "deposit", "money in"),
    "paid_out": ("paid out", "debit", "withdrawal", "money out"),
    "name": ("name", "payee", "payer", "counterparty"),
    "text": ("description", "details", "memo", "narrative", "particulars", "text"),
    "reference": ("reference", "ref", "end-to-end"),
    "bank_id": ("transaction id", "bank id", "fitid"),
}


@dataclass(frozen=True, slots=True)
class Columns:
    """Which heading holds what; `amount`, or `paid_in` with `paid_out`."""

    day: str
    amount: str = ""
    paid_in: str = ""
    paid_out: str = ""
    name: str = ""
    text: str = ""
    reference: str = ""
    bank_id: str = ""
    day_order: str = DayOrder.MONTH_FIRST.value
    mark: str = "."


@dataclass(frozen=True, slots=True)
class Sheet:
    """The heading and the rows below it, each with its line in the file."""

    heading: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]

    @property
    def key(self) -> str:
        """The heading, by which the choice of columns is known again."""
        return "\x1f".join(name.casefold() for name in self.heading)


def read_sheet(text: str) -> Sheet:
    """The heading is the first line with three cells or more; what stands above it is the bank's own words."""
    delimiter = max(DELIMITERS, key=text[:5000].count)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=False)
    heading: tuple[str, ...] = ()
    rows = []
    try:
        for cells in lines:
            tidy = [cell.strip() for cell in cells]
            if not heading:
                heading = _heading(tidy)
            elif any(tidy):
                rows.append((lines.line_num, dict(zip(heading, tidy, strict=False))))
    except csv.Error as wrong:
        raise BadFile(f"Line {lines.line_num} of this table cannot be read: {wrong}.") from wrong
    if not heading or not rows:
        raise BadFile("This is no table with a heading and rows below it.")
    return Sheet(heading, tuple(rows))


def _heading(cells: Sequence[str]) -> tuple[str, ...]:
    named = [cell for cell in cells if cell]
    if len(named) < 3 or len(set(named)) != len(named):
        return ()
    return tuple(cell or f"column {number}" for number, cell in enumerate(cells, start=1))


def guessed(sheet: Sheet) -> dict[str, str]:
    """A first choice by the words of the headings, for a person to look at."""
    found: dict[str, str] = {}
    for role, wanted in GUESSES.items():
        for name in sheet.heading:
            if name not in found.values() and any(word in name.casefold() for word in wanted):
                found[role] = name
                break
    if "paid_in" in found or "paid_out" in found:
        found.pop("amount", None)
    return found


def read_columns(sheet: Sheet, columns: Columns) -> Reading:
    return Reading("CSV", "", "", [_move(line, row, columns) for line, row in sheet.rows])


def _move(line: int, row: Mapping[str, str], columns: Columns) -> BankMove:
    told = row.get(columns.day, "")
    try:
        day = day_of(told, DayOrder(columns.day_order))
    except ValueError:
        raise BadFile(f"Line {line}: “{told}” is no day of the order that was chosen.") from None
    name = row.get(columns.name, "")
    return BankMove(
        day=day,
        amount=_amount(line, row, columns),
        text=words(row.get(columns.text)),
        name=name,
        reference=row.get(columns.reference, ""),
        bank_id=row.get(columns.bank_id, ""),
    )


def _amount(line: int, row: Mapping[str, str], columns: Columns) -> Decimal:
    told = [(row.get(columns.amount, ""), 1)] if columns.amount else []
    told += [(row.get(columns.paid_in, ""), 1), (row.get(columns.paid_out, ""), -1)] if not columns.amount else []
    for text, sign in told:
        if text:
            try:
                amount = amount_of(text, columns.mark)
            except ValueError:
                raise BadFile(f"Line {line}: “{text}” is no amount.") from None
            if amount or len(told) == 1:
                return sign * abs(amount) if len(told) > 1 else amount
    raise BadFile(f"Line {line} has no amount.")
