"""What needs attention, as a page shows it: blocks of a few rows, each with the place where it is put right."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

SHOWN = 3


@dataclass(frozen=True, slots=True)
class Row:
    """One thing to look at: a name that leads there, a word with its tone, a day or an amount, and a sentence."""

    name: str
    href: str
    sentence: str = ""
    word: str = ""
    tone: str = "plain"
    day: date | None = None
    amount: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """Rows of one kind, the most pressing first, `most` of them on Today. `all_href` is a list that has them all."""

    key: str
    title: str
    rows: tuple[Row, ...]
    sentence: str = ""
    amount: Decimal | None = None
    is_pressing: bool = False
    all_href: str = ""
    most: int = SHOWN

    @property
    def first_rows(self) -> tuple[Row, ...]:
        return self.rows[: self.most]

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def is_cut(self) -> bool:
        return self.count > self.most


def plural(count: int, one: str, many: str = "") -> str:
    """`plural(2, "visit")` is "2 visits"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
