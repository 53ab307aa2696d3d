"""Words that promise an outcome, found in what an owner will read, each with a better word. Nothing is changed by it.

The list is `words.json` beside this module: `find` holds words and phrases, `instead` the better one, `but_not` longer
phrases in which they are harmless. They are trade habit and our own caution; no published source.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

LIST = Path(__file__).with_name("words.json")
LONGEST = 20_000
WORD = r"[^\W_]"
NEGATIONS = r"not|no|never|cannot|without|nor|neither|hardly|\w+n['’]t"
# A denial up to three words before, in the same clause: "does not cure", "is no promise of a cure".
DENIED = re.compile(rf"\b(?:{NEGATIONS})\b(?!\s+(?:only|just|merely|doubt)\b)(?:\s+[\w'’-]+){{0,3}}\s+$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Promise:
    """The words as they stand in the text, and what to say instead."""

    words: str
    instead: str


@dataclass(frozen=True, slots=True)
class Entry:
    pattern: re.Pattern[str]
    instead: str
    harmless: re.Pattern[str] | None


def promises_in(text: str) -> tuple[Promise, ...]:
    """Each promise in the text, once, in the order of the text; a denied one ("does not cure") is none."""
    text = text[:LONGEST]
    found = sorted(_found(text), key=lambda place: (place[0], -place[1]))
    kept: dict[str, Promise] = {}
    end = 0
    for start, stop, instead in found:
        if start < end:
            continue
        end = stop
        words = " ".join(text[start:stop].split())
        kept.setdefault(words.casefold(), Promise(words, instead))
    return tuple(kept.values())


def _found(text: str) -> Iterator[tuple[int, int, str]]:
    for entry in entries():
        spared = [found.span() for found in entry.harmless.finditer(text)] if entry.harmless else []
        for found in entry.pattern.finditer(text):
            start, stop = found.span()
            if any(left <= start and stop <= right for left, right in spared):
                continue
            if not DENIED.search(text[max(0, start - 60) : start]):
                yield start, stop, entry.instead


@cache
def entries() -> tuple[Entry, ...]:
    """The list, read once."""
    return tuple(_entry(each) for each in json.loads(LIST.read_text(encoding="utf-8")))


def _entry(values: dict[str, Any]) -> Entry:
    harmless = values.get("but_not")
    return Entry(_any_of(values["find"]), values["instead"], _any_of(harmless) if harmless else None)


def _any_of(phrases: list[str]) -> re.Pattern[str]:
    """Whole words, in any case, with any space or hyphen between the words of a phrase."""
    parts = (r"[\s-]*".join(map(re.escape, phrase.split())) for phrase in sorted(phrases, key=len, reverse=True))
    return re.compile(rf"(?<!{WORD})(?:{'|'.join(parts)})(?!{WORD})", re.IGNORECASE)
