"""Reads values out of JSON and goes on after a mistake, so that every one is told by its place."""

import json
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from clients.rounds.clock import seconds_of_clock
from clients.rounds.day_round import Span

Json = dict[str, Any]


class NotJson(ValueError):
    """The text cannot be read as JSON at all; the message says where."""


@dataclass(frozen=True, slots=True)
class Field:
    """A value and where it stands, as in `stops[1].windows`. The whole file stands nowhere: ``."""

    place: str
    value: Any

    def at(self, name: str) -> str:
        return f"{self.place}.{name}" if self.place else name


def read_json(text: str) -> Any:
    """The JSON value with every number as an exact Decimal; raises NotJson, also for a name written twice."""

    def once(pairs: list[tuple[str, Any]]) -> Json:
        written = dict(pairs)
        if len(written) < len(pairs):
            names = [name for name, _ in pairs]
            again = sorted({name for name in names if names.count(name) > 1})
            raise NotJson(f"file: written twice in one place: {', '.join(again)}.")
        return written

    try:
        return json.loads(text, parse_float=Decimal, parse_int=Decimal, object_pairs_hook=once)
    except json.JSONDecodeError as error:
        raise NotJson(f"line {error.lineno}, column {error.colno}: this is not JSON.") from error
    except RecursionError as error:
        raise NotJson("file: it is nested too deeply.") from error


@dataclass
class JsonReader:
    """Each method gives the value, or None after adding what is wrong to `errors`."""

    errors: list[str] = field(default_factory=list)

    def wrong(self, place: str, sentence: str) -> None:
        self.errors.append(f"{place or 'file'}: {sentence}")

    def names(self, here: Field, known: tuple[str, ...]) -> Json | None:
        """An object with no other names than these."""
        if not isinstance(here.value, dict):
            self.wrong(here.place, "this must be an object in braces.")
            return None
        for name in here.value:
            if name not in known:
                self.wrong(here.at(shown(name)), f"not known here; known are {', '.join(known)}.")
        return here.value

    def required(self, here: Field, name: str) -> Field | None:
        if name not in here.value:
            self.wrong(here.at(name), "this is missing.")
            return None
        return Field(here.at(name), here.value[name])

    def items(self, here: Field) -> list[Field] | None:
        if not isinstance(here.value, list):
            self.wrong(here.place, "this must be a list in brackets.")
            return None
        return [Field(f"{here.place}[{index}]", value) for index, value in enumerate(here.value)]

    def pair(self, here: Field, written: str) -> tuple[Field, Field] | None:
        items = self.items(here)
        if items is None:
            return None
        if len(items) != 2:
            self.wrong(here.place, f"this must be {written}.")
            return None
        return items[0], items[1]

    def text(self, here: Field) -> str | None:
        if not isinstance(here.value, str) or not here.value.strip():
            self.wrong(here.place, "this must be text in quotes.")
            return None
        return here.value

    def number(self, here: Field, least: int, most: int) -> Decimal | None:
        if not isinstance(here.value, Decimal):
            self.wrong(here.place, f"{shown(here.value)} is not a number.")
            return None
        if not least <= here.value <= most:
            self.wrong(here.place, f"this must be from {least:,} to {most:,}.")
            return None
        return here.value

    def word(self, here: Field, words: tuple[str, ...]) -> str | None:
        if here.value not in words:
            self.wrong(here.place, f"{shown(here.value)} is none of {', '.join(words)}.")
            return None
        return str(here.value)

    def clock(self, here: Field) -> int | None:
        moment = seconds_of_clock(here.value) if isinstance(here.value, str) else None
        if moment is None:
            self.wrong(here.place, f'{shown(here.value)} is not a time of day like "09:30".')
        return moment

    def span(self, place: str, first: Field, last: Field) -> Span | None:
        start, end = self.clock(first), self.clock(last)
        if start is None or end is None:
            return None
        if end < start:
            self.wrong(place, f"it ends at {last.value}, before it starts at {first.value}.")
            return None
        return Span(start, end)

    def named_span(self, here: Field, first: str, last: str) -> Span | None:
        """A span written as two names of an object already read."""
        start, end = self.required(here, first), self.required(here, last)
        return None if start is None or end is None else self.span(here.place, start, end)


def shown(value: Any) -> str:
    """A value as it may be repeated in a sentence: short, on one line."""
    plain = isinstance(value, Decimal) or (isinstance(value, str) and value.isidentifier())
    text = str(value) if plain else json.dumps(value, default=str)
    return text if len(text) <= 40 else f"{text[:39]}…"
