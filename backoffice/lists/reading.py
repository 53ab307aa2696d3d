"""A table that somebody kept elsewhere, CSV or XLSX, as a heading and rows of text. Pure."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from zipfile import BadZipFile, ZipFile

DELIMITERS = ",;\t"
MOST_ROWS, MOST_COLUMNS, MOST_UNPACKED = 2000, 60, 60 * 1024 * 1024


class BadTable(ValueError):
    """Why a file is no table, in one sentence."""


@dataclass(frozen=True, slots=True)
class Table:
    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def read_table(content: bytes) -> Table:
    """The first sheet of a workbook, or a CSV with commas, semicolons or tabs. Raises BadTable."""
    lines = _workbook(content) if content[:4] == b"PK\x03\x04" else _csv(content)
    filled = [row for row in lines if any(row)]
    if len(filled) < 2:
        raise BadTable("This is no table with a heading and rows below it.")
    if len(filled) > MOST_ROWS + 1:
        raise BadTable(f"This table has {len(filled) - 1} rows. Bring at most {MOST_ROWS} at a time.")
    width = min(MOST_COLUMNS, max(place for place, name in enumerate(filled[0], start=1) if name))
    heading = tuple(name or f"Column {number}" for number, name in enumerate(filled[0][:width], start=1))
    if len(set(heading)) != len(heading):
        raise BadTable("Two columns have the same heading. Give one another name.")
    return Table(heading, tuple((*row, *[""] * width)[:width] for row in filled[1:]))


def _csv(content: bytes) -> list[tuple[str, ...]]:
    if b"\x00" in content:
        raise BadTable("This is no table: CSV or XLSX is read.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    delimiter = max(DELIMITERS, key=text[:5000].count)
    try:
        return [_tidy(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
    except csv.Error as wrong:
        raise BadTable(f"This table cannot be read: {wrong}.") from wrong


def _workbook(content: bytes) -> list[tuple[str, ...]]:
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise BadTable("This workbook is too large when it is unpacked. Save it as CSV.")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = sheet.iter_rows(max_row=MOST_ROWS + 2, max_col=MOST_COLUMNS, values_only=True)
        return [_tidy(_said(cell) for cell in row) for row in rows]
    except BadTable:
        raise
    except (BadZipFile, InvalidFileException, KeyError, IndexError, ValueError) as wrong:
        raise BadTable("This workbook cannot be read. Save it anew, or as CSV.") from wrong


def _said(cell: object) -> str:
    """A day as people write it for a program, a whole number without its point."""
    if hasattr(cell, "isoformat"):
        return str(cell.isoformat())[:10]
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else str(cell)


def _tidy(cells: Iterable[str]) -> tuple[str, ...]:
    return tuple(" ".join(cell.split()) for cell in cells)


def guessed(heading: Sequence[str], names: Sequence[str]) -> str:
    """The column that has one of the names, whatever its case."""
    folded = {" ".join(name.replace("_", " ").split()).casefold(): name for name in heading}
    return next((folded[name] for name in names if name in folded), "")
