"""Days off as a person types and reads them; `cadence.DaysOff` is what they become."""

import re
from collections.abc import Iterable, Sequence

from clients.plans.cadence import OnDayOff, read_date, say_date
from clients.plans.holiday_calendars import PREFIX, say_calendar
from clients.plans.recurrence import WEEKDAYS
from clients.plans.rhythm import WEEKDAY_WORDS, listed

MOST_DATES = 60
FIRST_YEAR, LAST_YEAR = 1980, 2100
WHAT_HAPPENS = {
    OnDayOff.KEEP: "sessions are given all the same",
    OnDayOff.NEXT: "a session moves to the next open day",
    OnDayOff.DROP: "a session is left out",
}


def read_dates(text: str) -> tuple[str, ...]:
    """The dates of a text such as "2026-03-17, 2026-12-24", in order, each once; raises ValueError with a sentence."""
    pieces = [piece for piece in re.split(r"[\s,;]+", text) if piece]
    if len(pieces) > MOST_DATES:
        raise ValueError(f"at most {MOST_DATES} dates; this has {len(pieces)}")
    days = sorted({read_date(piece) for piece in pieces})
    for day in days:
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise ValueError(f"{day.isoformat()} is not between {FIRST_YEAR} and {LAST_YEAR}")
    return tuple(day.isoformat() for day in days)


def parted(entries: Iterable[str]) -> tuple[list[str], list[str], list[str]]:
    """Entries as they are stored, by sort: weekdays, dates, holiday calendars."""
    weekdays, dates, calendars = [], [], []
    for entry in entries:
        if entry in WEEKDAYS:
            weekdays.append(entry)
        elif entry.startswith(PREFIX):
            calendars.append(entry)
        else:
            dates.append(entry)
    return weekdays, dates, calendars


def say_days_off(entries: Sequence[str], on_day_off: str) -> str:
    """Days off in words, with what happens on them; empty if there are none."""
    if not entries:
        return ""
    weekdays, dates, calendars = parted(entries)
    words = [f"{WEEKDAY_WORDS[WEEKDAYS.index(day)]}s" for day in sorted(weekdays, key=WEEKDAYS.index)]
    words += [say_date(read_date(day)) for day in sorted(dates)]
    words += [say_calendar(entry) for entry in calendars]
    said = listed(words)
    return f"{said[0].upper()}{said[1:]}: {WHAT_HAPPENS[OnDayOff(on_day_off)]}"
