"""Public holidays by country and part of a country, such as "US", "US-KY" or "GB-ENG" (ISO 3166 codes)."""

from collections.abc import Mapping
from datetime import date
from functools import cache, lru_cache
from types import MappingProxyType

PREFIX = "holidays "
SPELLED_OUT = ("US", "GB")
SMALL_WORDS = {"And": "and", "Of": "of", "The": "the"}

Choice = tuple[str, str]


class NoCalendar(ValueError):
    """A holiday calendar that is not known. The message is a plain sentence."""


def read_calendar(entry: str) -> str:
    """The calendar of an entry such as "holidays US-KY"; raises `NoCalendar` for one that is not known."""
    country, dash, part = entry.removeprefix(PREFIX).partition("-")
    known = _parts().get(country)
    if not entry.startswith(PREFIX) or known is None or (dash and part not in known):
        raise NoCalendar(f'"{entry[:40]}" is not a holiday calendar such as "holidays US" or "holidays US-KY"')
    return f"{country}{dash}{part}"


@lru_cache(maxsize=256)
def holidays_in(calendar: str, year: int) -> Mapping[date, str]:
    """The public holidays of one year with their names, in English where the calendar has them so."""
    from holidays import country_holidays  # slow to load, and most schedules have no calendar

    country, _, part = calendar.partition("-")
    spoken = country_holidays(country).supported_languages
    language = "en_US" if country not in SPELLED_OUT and "en_US" in spoken else None
    found = country_holidays(country, subdiv=part or None, years=year, language=language)
    return MappingProxyType({day: name.split("; ")[0] for day, name in found.items() if day.year == year})


@cache
def calendar_choices(first: str = "US") -> tuple[tuple[str, tuple[Choice, ...]], ...]:
    """Entries in groups for a list to choose from: two countries by their parts, `first` before; then all others."""
    spelled = sorted(SPELLED_OUT, key=lambda code: code != first)
    groups = [
        (
            _names()[code],
            (
                (f"{PREFIX}{code}", f"{_names()[code]}, whole country"),
                *((f"{PREFIX}{code}-{part}", name) for name, part in sorted(_part_names(code).items())),
            ),
        )
        for code in spelled
    ]
    others = [(f"{PREFIX}{code}", name) for code, name in _names().items() if code not in SPELLED_OUT]
    return (*groups, ("Other countries", tuple(sorted(others, key=lambda choice: choice[1]))))


def say_calendar(entry: str) -> str:
    """An entry in words, such as "public holidays (Kentucky, United States)"."""
    country, _, part = read_calendar(entry).partition("-")
    names = {code: name for name, code in _part_names(country).items()}
    name = names.get(part, part)
    return f"public holidays ({name}, {_names()[country]})" if part else f"public holidays ({_names()[country]})"


@cache
def _parts() -> Mapping[str, frozenset[str]]:
    """For each country the codes of its parts that have holidays of their own."""
    from holidays import list_supported_countries

    return {code: frozenset(parts) for code, parts in list_supported_countries(include_aliases=False).items()}


@cache
def _names() -> Mapping[str, str]:
    from holidays.registry import COUNTRIES

    names = {codes[1]: module for module, codes in COUNTRIES.items()}
    return {code: _spaced(names[code]) for code in _parts() if code in names}


def _spaced(module: str) -> str:
    first, *rest = (word.capitalize() for word in module.split("_"))
    return " ".join([first, *(SMALL_WORDS.get(word, word) for word in rest)])


@cache
def _part_names(country: str) -> Mapping[str, str]:
    from holidays import country_holidays

    return dict(country_holidays(country).subdivisions_aliases)
