"""What a bank's file says, whatever its format. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal


class BadFile(ValueError):
    """Why a file cannot be read, in one sentence that names the line."""


@dataclass(frozen=True, slots=True)
class BankMove:
    """One line of an account: above zero came in, below zero went out. `bank_id` is what the bank itself calls it."""

    day: date
    amount: Decimal
    text: str = ""
    name: str = ""
    reference: str = ""
    bank_id: str = ""
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """All of one file; `account` and `currency` are empty where the format does not tell them."""

    format: str
    account: str
    currency: str
    moves: Sequence[BankMove]


def words(*parts: str | None) -> str:
    """The parts that say something, on one line, none twice."""
    return " ".join(dict.fromkeys(" ".join((part or "").split()) for part in parts if part and part.strip()))
