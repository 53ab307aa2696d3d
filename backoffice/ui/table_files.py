"""A table as a file that a spreadsheet opens."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.http import HttpResponse
from tablib import Dataset

from backoffice.ui.tables import plain_cell

TYPES = {"csv": "text/csv; charset=utf-8", "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
EXPORTS = tuple(TYPES)


def table_file(name: str, kind: str, headers: Sequence[str], rows: Iterable[Sequence[Any]]) -> HttpResponse:
    """`kind` is one of EXPORTS; figures stay figures, and text that a spreadsheet would run stays text."""
    data = Dataset(*(tuple(plain_cell(cell) for cell in row) for row in rows), headers=headers)
    answer = HttpResponse(data.export(kind), content_type=TYPES[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer
