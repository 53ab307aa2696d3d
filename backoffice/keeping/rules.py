"""Whether a record stays, until when and why: one pure function over what a side holds and the rules of the day."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from dateutil.relativedelta import relativedelta


@dataclass(frozen=True, slots=True)
class Rule:
    """Years that a kind of record is kept, and why; no years: it goes when it is asked for."""

    years: int
    why: str


@dataclass(frozen=True, slots=True)
class Held:
    """One record about a person: what it is in words, its kind, the day its years count from, how it is emptied.

    `told` is what is handed over when the person asks for it. `bound` is a reason that no number of years ends, such
    as another person's share in it. `documents` are its stored files.
    """

    kind: str
    words: str
    counted: date | None
    told: Mapping[str, Any]
    empty: Callable[[], object]
    documents: tuple[Any, ...] = ()
    bound: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """`until` is the last day that a rule keeps it; a record without one goes, unless it is bound."""

    held: Held
    until: date | None
    why: str

    @property
    def stays(self) -> bool:
        return bool(self.why)


def judge(held: Iterable[Held], rules: Mapping[str, Rule], on: date) -> list[Verdict]:
    """Each record with what the rules of the day say; a record without a day to count from is kept by no years."""
    return [_judge(record, rules[record.kind], on) for record in held]


def _judge(held: Held, rule: Rule, on: date) -> Verdict:
    if held.bound:
        return Verdict(held, None, held.bound)
    if held.counted is None or not rule.years:
        return Verdict(held, None, "")
    until = held.counted + relativedelta(years=rule.years)
    return Verdict(held, until, rule.why) if on <= until else Verdict(held, None, "")
