"""Reading a JSON file that people wrote: every error is kept with its place, and reading goes on."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final, cast

from billing.money.rounding import CURRENCIES, minor_digits
from clients.plans.cadence import read_date

LARGEST_FILE: Final = 5_000_000
LONGEST_TEXT: Final = 200
FIRST_DATE: Final = date(1900, 1, 1)
LAST_DATE: Final = date(2200, 12, 31)
PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}")
AMOUNT = re.compile(r"(-?)([0-9]{1,9})(?:\.([0-9]{1,12}))?")


class WrongFile(ValueError):
    """A file that cannot be priced; `errors` holds a line for each fault, beginning with its place."""

    def __init__(self, errors: Sequence[str]) -> None:
        super().__init__("\n".join(errors))
        self.errors = tuple(errors)


class Inexact:
    """A JSON number with a point, an exponent or more digits than any count has: nothing here may be one."""


class Keys(dict[str, object]):
    """A JSON object that remembers which keys stood more than once."""

    def __init__(self, pairs: list[tuple[str, object]]) -> None:
        super().__init__(pairs)
        names = [name for name, _value in pairs]
        self.twice = sorted({name for name in names if names.count(name) > 1}) if len(self) < len(names) else []


def parse_json(content: bytes) -> object:
    """The JSON value of a file in UTF-8; raises `WrongFile` with the line and column of the fault."""
    if len(content) > LARGEST_FILE:
        raise WrongFile([f"file: at most {LARGEST_FILE} bytes"])
    try:
        text = content.decode("utf-8-sig")
        return json.loads(
            text,
            object_pairs_hook=Keys,
            parse_float=lambda _digits: Inexact(),
            parse_constant=lambda _name: Inexact(),
            parse_int=lambda digits: int(digits) if len(digits) < 16 else Inexact(),
        )
    except UnicodeDecodeError as error:
        raise WrongFile([f"file: not UTF-8 text at byte {error.start}"]) from None
    except json.JSONDecodeError as error:
        raise WrongFile([f"line {error.lineno}, column {error.colno}: not JSON: {error.msg}"]) from None
    except RecursionError:
        raise WrongFile(["file: nested too deeply"]) from None


class Reader:
    """Typed reads of one file. A read that fails records its error and returns a harmless value of the right type."""

    def __init__(self) -> None:
        self.errors: list[str] = []
        self.currency = "USD"

    def wrong(self, place: str, sentence: str) -> None:
        self.errors.append(f"{place or 'file'}: {sentence}")

    def keys(
        self, value: object, place: str, required: Sequence[str] = (), optional: Sequence[str] = ()
    ) -> Mapping[str, object]:
        """An object with these keys and no others."""
        found = self.mapping(value, place)
        if found is None:
            return {}
        allowed = {*required, *optional}
        for name in found:
            if name not in allowed:
                self.wrong(below(place, name), "unknown")
        for name in required:
            if name not in found:
                self.wrong(below(place, name), "missing")
        return {name: each for name, each in found.items() if name in allowed}

    def mapping(self, value: object, place: str) -> Mapping[str, object] | None:
        """An object with any keys, none of them twice."""
        if not isinstance(value, Keys):
            self.wrong(place, "must be an object in braces")
            return None
        for name in value.twice:
            self.wrong(below(place, name), "stands twice")
        return value

    def items(self, value: object, place: str, least: int, most: int) -> Iterator[tuple[str, object]]:
        """The entries of a list with their places."""
        if not isinstance(value, list):
            self.wrong(place, "must be a list in brackets")
            return
        entries = cast("list[object]", value)
        if not least <= len(entries) <= most:
            self.wrong(place, f"at least {least}" if len(entries) < least else f"at most {most}")
        for number, entry in enumerate(entries[:most]):
            yield f"{place}[{number}]", entry

    def text(self, value: object, place: str) -> str:
        if not isinstance(value, str):
            self.wrong(place, "must be text in quotes")
        elif not value.strip():
            self.wrong(place, "must not be empty")
        elif len(value) > LONGEST_TEXT:
            self.wrong(place, f"at most {LONGEST_TEXT} characters")
        else:
            return value
        return ""

    def choice(self, value: object, place: str, choices: Sequence[str]) -> str:
        if isinstance(value, str) and value in choices:
            return value
        self.wrong(place, "must be " + " or ".join(f'"{choice}"' for choice in choices))
        return choices[0]

    def whole(self, value: object, place: str, least: int, most: int) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            self.wrong(place, "must be a whole number")
        elif value < least:
            self.wrong(place, f"at least {least}")
        elif value > most:
            self.wrong(place, f"at most {most}")
        else:
            return value
        return least

    def flag(self, value: object, place: str) -> bool:
        if not isinstance(value, bool):
            self.wrong(place, "must be true or false")
        return value is True

    def day(self, value: object, place: str) -> date:
        try:
            day = read_date(self.text(value, place) if not isinstance(value, str) else value)
        except ValueError:
            if isinstance(value, str):
                self.wrong(place, "must be a date such as 2026-03-02")
            return FIRST_DATE
        if not FIRST_DATE <= day <= LAST_DATE:
            self.wrong(place, f"must be from {FIRST_DATE} to {LAST_DATE}")
            return FIRST_DATE
        return day

    def set_currency(self, value: object, place: str) -> str:
        code = self.text(value, place)
        if code in CURRENCIES:
            self.currency = code
        elif code:
            self.wrong(place, "must be an ISO 4217 code such as USD")
        return self.currency

    def money(self, value: object, place: str) -> Decimal:
        """An amount as text, with no more decimals than its currency has."""
        digits = minor_digits(self.currency)
        amount = self.decimal(value, place, digits, f"at most {digits} decimals in {self.currency}")
        return amount.quantize(Decimal(1).scaleb(-digits))

    def percent(self, value: object, place: str) -> Decimal:
        rate = self.decimal(value, place, 6, "at most 6 decimals")
        if rate > 100:
            self.wrong(place, "at most 100")
        return rate

    def decimal(self, value: object, place: str, digits: int, too_fine: str) -> Decimal:
        found = AMOUNT.fullmatch(value) if isinstance(value, str) else None
        if found is None:
            self.wrong(place, 'must be a number in quotes such as "95", below a billion')
        elif found[1] and Decimal(found[0]):
            self.wrong(place, "must not be negative")
        elif len(found[3] or "") > digits:
            self.wrong(place, too_fine)
        else:
            return abs(Decimal(found[0]))
        return Decimal(0)


def below(place: str, name: str) -> str:
    """The place of a key inside an object: `options[2].horses.A`, or `horses["Sea Fret"]` for a key with spaces."""
    if not PLAIN_KEY.fullmatch(name):
        return f"{place}[{json.dumps(name[:60], ensure_ascii=False)}]"
    return f"{place}.{name}" if place else name
