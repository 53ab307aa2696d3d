"""The base of every table, and the columns that figures, days and states need on screen and in an export."""

from collections.abc import Callable, Iterator
from inspect import Parameter, Signature
from typing import Any, NamedTuple

import django_tables2 as tables
from django.db.models import QuerySet
from django.utils.html import format_html
from django_tables2.data import TableQuerysetData
from django_tables2.utils import signature

from backoffice.british import spoken
from backoffice.ui import words
from backoffice.ui.chips import chip

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


class Cell(NamedTuple):
    content: Any
    label: str
    attrs: str
    is_blank: bool


class Rows(TableQuerysetData):  # type: ignore[misc]
    """A page reads what it shows: the keys of its rows by their order, and sums and joins for those alone."""

    def __getitem__(self, key: Any) -> Any:
        return self.data.filter(pk__in=self.data.values("pk")[key]) if isinstance(key, slice) else self.data[key]


ANYTHING = Signature([Parameter("given", Parameter.VAR_KEYWORD)])


def _known(render: Callable[..., Any]) -> Callable[..., Any]:
    """What a cell is drawn by, its arguments looked up once a table: the library looks them up for every cell."""
    names, takes_more = signature(render)

    def drawn(**given: Any) -> Any:
        return render(**(given if takes_more else {name: given[name] for name in names}))

    drawn.__signature__ = ANYTHING  # type: ignore[attr-defined]
    return drawn


class Table(tables.Table):  # type: ignore[misc]
    """Rows with hairlines; on a phone each row becomes a block with the column names as labels."""

    def __init__(self, data: Any = (), **options: Any) -> None:
        super().__init__(Rows(data) if isinstance(data, QuerySet) else data, **options)
        for column in self.columns.iterall():
            column.render = _known(column.render)

    class Meta:
        template_name = "ui/table.html"
        default = "–"
        order_by_field = "sort"

    def lines(self) -> Iterator[tuple[str, list[Cell]]]:
        """Attributes and cells of each row of this page; what a column gives to all its cells is worked out once."""
        columns = [
            (each.name, spoken(str(each.header)), each.attrs["td"].as_html(), each.default) for each in self.columns
        ]
        for row in self.paginated_rows:
            contents = [(row.get_cell(name), label, attrs, default) for name, label, attrs, default in columns]
            yield (
                row.attrs.as_html(),
                [Cell(content, label, attrs, content in ("", default)) for content, label, attrs, default in contents],
            )

    def as_values(self, exclude_columns: Any = None) -> Iterator[list[Any]]:
        """Rows for an export; text that a spreadsheet would run as a formula is kept as text (OWASP, CSV injection)."""
        for row in super().as_values(exclude_columns=exclude_columns):
            yield [plain_cell(value) for value in row]


def plain_cell(value: Any) -> Any:
    """Text that a spreadsheet would run as a formula, kept as text."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


class NumberColumn(tables.Column):  # type: ignore[misc]
    """A figure: right-aligned, in tabular figures."""

    attrs = {"td": {"class": "num"}, "th": {"class": "num"}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("attrs", self.attrs)
        super().__init__(*args, **kwargs)

    def value(self, value: Any, **kwargs: Any) -> Any:
        return value


class MoneyColumn(NumberColumn):
    """An amount in the currency of the business."""

    def render(self, value: Any, table: Any) -> str:
        request = getattr(table, "request", None)
        return words.money(value, getattr(request, "business", None))


class MinutesColumn(NumberColumn):
    def render(self, value: Any) -> str:
        return words.hours(value)


class DayColumn(tables.Column):  # type: ignore[misc]
    """A local date as "Thu 12 Mar"; in an export as a date."""

    attrs = {"td": {"class": "day"}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("attrs", self.attrs)
        super().__init__(*args, **kwargs)

    def render(self, value: Any) -> str:
        return words.day(value)

    def value(self, value: Any, **kwargs: Any) -> Any:
        return words.local(value)


class ChipColumn(tables.Column):  # type: ignore[misc]
    """A state as a word with its tone and icon; `tones` maps the stored value to (tone, icon)."""

    def __init__(self, *, tones: dict[str, tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.tones = tones

    def render(self, value: Any, record: Any, bound_column: Any) -> str:
        stored = bound_column.accessor.resolve(record, quiet=True)
        tone, icon = self.tones.get(str(stored), ("plain", ""))
        return chip(str(value), tone, icon)

    def value(self, value: Any, **kwargs: Any) -> Any:
        return str(value)


class NameColumn(tables.Column):  # type: ignore[misc]
    """The name of the row, linked to its page, with a softer second line from `under`."""

    def __init__(self, *, under: Callable[[Any], str] | None = None, **kwargs: Any) -> None:
        kwargs.setdefault("linkify", True)
        super().__init__(**kwargs)
        self.under = under

    def render(self, value: Any, record: Any) -> str:
        second = self.under(record) if self.under else ""
        return format_html('{}<span class="under">{}</span>', value, second) if second else str(value)

    def value(self, value: Any, **kwargs: Any) -> Any:
        return str(value)
