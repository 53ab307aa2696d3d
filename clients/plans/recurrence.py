"""The days that an RFC 5545 recurrence rule picks inside a phase."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from itertools import takewhile

from dateutil.rrule import rrulestr

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
LONGEST_MONTH_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
# How many days one period can hold, and so how far BYSETPOS can reach into it.
DAYS_IN_PERIOD = {"DAILY": 1, "WEEKLY": 7, "MONTHLY": 31, "YEARLY": 366}
HIGHEST_COUNT = 3660

# The parts that RFC 5545 §3.3.10 allows only with some frequencies.
ONLY_WITH = {
    "BYWEEKNO": ("YEARLY",),
    "BYYEARDAY": ("YEARLY",),
    "BYMONTHDAY": ("DAILY", "MONTHLY", "YEARLY"),
}


class WrongRule(ValueError):
    """A rule that cannot be read, or that does not repeat by whole days. The message is a plain sentence."""


@dataclass(frozen=True, slots=True)
class Recurrence:
    """A rule that was read and found sound: the parts for the expansion, and the last day it may reach."""

    text: str
    until: date | None


def rule_days(rule: str, start: date, days: int) -> tuple[date, ...]:
    """The days that `rule` picks in the `days` days from `start`, in order.

    `start` is DTSTART; it occurs only if the rule matches it, and COUNT counts matching days (RFC 5545 §3.3.10).
    Raises `WrongRule` if the rule cannot be read.
    """
    return _expanded(read_rule(rule), start, days)


@lru_cache(maxsize=1024)
def _expanded(recurrence: Recurrence, start: date, days: int) -> tuple[date, ...]:
    last = start + timedelta(days=days - 1)
    if recurrence.until is not None:
        last = min(last, recurrence.until)
    occurrences = rrulestr(recurrence.text, dtstart=datetime.combine(start, time(), tzinfo=UTC))
    return tuple(takewhile(lambda day: day <= last, (moment.date() for moment in occurrences)))


@lru_cache(maxsize=1024)
def read_rule(rule: str) -> Recurrence:
    """Read and check a rule; raises `WrongRule` with a sentence that names the part at fault."""
    parts = _parts(rule)
    freq = parts.get("FREQ", "")
    if freq not in DAYS_IN_PERIOD:
        raise WrongRule("FREQ must be DAILY, WEEKLY, MONTHLY or YEARLY")
    for name, value in parts.items():
        READERS[name](name, value)
    _check_together(parts, freq)
    until = _until(parts["UNTIL"]) if "UNTIL" in parts else None
    text = ";".join(f"{name}={value}" for name, value in parts.items() if name != "UNTIL")
    return Recurrence(text=text, until=until)


def _parts(rule: str) -> dict[str, str]:
    parts: dict[str, str] = {}
    for piece in rule.strip().upper().removeprefix("RRULE:").split(";"):
        name, equals, value = piece.partition("=")
        if not equals or not value:
            raise WrongRule(f'"{piece[:40]}" is not a NAME=VALUE part of a rule')
        if name not in READERS:
            raise WrongRule(f"{name[:40]} is not a part of a rule by days")
        if name in parts:
            raise WrongRule(f"{name} stands twice")
        parts[name] = value
    return parts


def _check_together(parts: dict[str, str], freq: str) -> None:
    if "COUNT" in parts and "UNTIL" in parts:
        raise WrongRule("COUNT and UNTIL may not stand together")
    for name, freqs in ONLY_WITH.items():
        if name in parts and freq not in freqs:
            raise WrongRule(f"{name} may not stand with FREQ={freq}")
    if "BYDAY" in parts:
        _check_numbered_days(parts, freq)
    if "BYSETPOS" in parts:
        _check_positions(parts, freq)
    if "BYMONTH" in parts and "BYMONTHDAY" in parts:
        _check_month_days(parts)


def _check_numbered_days(parts: dict[str, str], freq: str) -> None:
    numbers = [int(piece[:-2]) for piece in parts["BYDAY"].split(",") if len(piece) > 2]
    if numbers and freq not in ("MONTHLY", "YEARLY"):
        raise WrongRule(f"BYDAY may not carry a number with FREQ={freq}")
    if numbers and "BYWEEKNO" in parts:
        raise WrongRule("BYDAY may not carry a number with BYWEEKNO")
    highest = 5 if freq == "MONTHLY" or "BYMONTH" in parts else 53
    if any(abs(number) > highest for number in numbers):
        raise WrongRule(f"BYDAY reaches at most the weekday number {highest}")


def _check_positions(parts: dict[str, str], freq: str) -> None:
    if not any(name.startswith("BY") and name != "BYSETPOS" for name in parts):
        raise WrongRule("BYSETPOS needs another BY part")
    if any(abs(position) > DAYS_IN_PERIOD[freq] for position in _numbers(parts["BYSETPOS"])):
        raise WrongRule(f"BYSETPOS reaches at most {DAYS_IN_PERIOD[freq]} with FREQ={freq}")


def _check_month_days(parts: dict[str, str]) -> None:
    longest = max(LONGEST_MONTH_DAYS[month - 1] for month in _numbers(parts["BYMONTH"]))
    if all(abs(day) > longest for day in _numbers(parts["BYMONTHDAY"])):
        raise WrongRule("no month of BYMONTH has a day of BYMONTHDAY")


def _until(value: str) -> date:
    """The last day. With a time of day, a day counts if it has begun before that moment: all here is local dates."""
    try:
        if "T" not in value:
            return datetime.strptime(value, "%Y%m%d").replace(tzinfo=UTC).date()
        moment = datetime.strptime(value.removesuffix("Z"), "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
        return (moment - timedelta(seconds=1)).date()
    except (ValueError, OverflowError):
        raise WrongRule("UNTIL must be a date such as 20261224") from None


def _numbers(value: str) -> list[int]:
    return [int(piece) for piece in value.split(",")]


def _number(text: str, *, signed: bool) -> int | None:
    digits = text.lstrip("+-") if signed and text[:1] in "+-" else text
    if not digits.isascii() or not digits.isdigit() or len(digits) > 4:
        return None
    return int(text)


def _reads_freq(name: str, value: str) -> None:
    """FREQ is checked before the others, since the others depend on it."""


def _reads_until(name: str, value: str) -> None:
    _until(value)


def _reads_one(name: str, value: str) -> None:
    number = _number(value, signed=False)
    if number is None or not 1 <= number <= HIGHEST_COUNT:
        raise WrongRule(f"{name} must be a whole number from 1 to {HIGHEST_COUNT}")


def _reads_wkst(name: str, value: str) -> None:
    if value not in WEEKDAYS:
        raise WrongRule("WKST must be one of " + ", ".join(WEEKDAYS))


def _reads_byday(name: str, value: str) -> None:
    for piece in value.split(","):
        number = _number(piece[:-2], signed=True) if len(piece) > 2 else 1
        if piece[-2:] not in WEEKDAYS or not number:
            raise WrongRule(f'BYDAY has no day "{piece[:20]}"')


def _reads_up_to(highest: int, *, signed: bool) -> Callable[[str, str], None]:
    def reads(name: str, value: str) -> None:
        for piece in value.split(","):
            number = _number(piece, signed=signed)
            if not number or abs(number) > highest:
                raise WrongRule(f'{name} has no "{piece[:20]}"')

    return reads


READERS: dict[str, Callable[[str, str], None]] = {
    "FREQ": _reads_freq,
    "UNTIL": _reads_until,
    "COUNT": _reads_one,
    "INTERVAL": _reads_one,
    "WKST": _reads_wkst,
    "BYDAY": _reads_byday,
    "BYMONTH": _reads_up_to(12, signed=False),
    "BYMONTHDAY": _reads_up_to(31, signed=True),
    "BYYEARDAY": _reads_up_to(366, signed=True),
    "BYWEEKNO": _reads_up_to(53, signed=True),
    "BYSETPOS": _reads_up_to(366, signed=True),
}
