"""Days and amounts as people and banks write them. Pure."""

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum


class DayOrder(StrEnum):
    MONTH_FIRST = "mdy"
    DAY_FIRST = "dmy"
    YEAR_FIRST = "ymd"


def day_of(told: str, order: DayOrder) -> date:
    """`3/31/2026`, `31.03.26`, `2026-03-31`, `20260331`; raises ValueError."""
    numbers = re.findall(r"\d+", told)
    if len(numbers) == 1 and len(numbers[0]) == 8:
        numbers = [told.strip()[:4], told.strip()[4:6], told.strip()[6:8]]
    if len(numbers) < 3:
        raise ValueError(told)
    first, second, third = (int(number) for number in numbers[:3])
    if len(numbers[0]) == 4 or order == DayOrder.YEAR_FIRST:
        return date(_year(first), second, third)
    month, day = (first, second) if order == DayOrder.MONTH_FIRST else (second, first)
    return date(_year(third), month, day)


def _year(number: int) -> int:
    return number + 2000 if number < 80 else number + 1900 if number < 100 else number


def order_of(told: Iterable[str], otherwise: DayOrder) -> DayOrder:
    """The order that all of these days allow; `otherwise` where both do."""
    days = list(told)
    allowed = [order for order in (otherwise, *DayOrder) if all(_is_day(each, order) for each in days)]
    return allowed[0] if allowed else otherwise


def _is_day(told: str, order: DayOrder) -> bool:
    try:
        day_of(told, order)
    except ValueError:
        return False
    return True


def amount_of(told: str, mark: str) -> Decimal:
    """`1,234.56`, `1.234,56`, `(5.00)`, `5.00-`, `$5`; `mark` stands before the decimals. Raises ValueError."""
    plain = told.strip().replace("\u2212", "-").replace("\u00a0", "")
    is_out = (plain.startswith("(") and plain.endswith(")")) or plain.endswith("-")
    digits = re.sub(r"[^\d.,+-]", "", plain).rstrip("-")
    other = "," if mark == "." else "."
    try:
        amount = Decimal(digits.replace(other, "").replace(mark, "."))
    except InvalidOperation:
        raise ValueError(told) from None
    return -abs(amount) if is_out else amount


def mark_of(told: Iterable[str]) -> str:
    """The mark before the decimals: the last of point and comma that has one or two digits behind it."""
    for each in told:
        found = re.search(r"([.,])\d{1,2}\D*$", each.strip())
        if found:
            return found.group(1)
    return "."
