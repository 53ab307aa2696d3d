"""Seconds after midnight as people write them, and back."""

import re

_CLOCK = re.compile(r"([0-9]{2}):([0-5][0-9])(?::([0-5][0-9]))?")
DAY = 24 * 3600


def clock(moment: int) -> str:
    """`12:10`, or `12:10:30` where there are seconds; a moment on another day says so: `00:20 (+1 day)`."""
    days, seconds = divmod(moment, DAY)
    hour, minute, second = seconds // 3600, seconds // 60 % 60, seconds % 60
    text = f"{hour:02d}:{minute:02d}" + (f":{second:02d}" if second else "")
    if not days:
        return text
    return f"{text} ({days:+d} day{'' if abs(days) == 1 else 's'})"


def seconds_of_clock(text: str) -> int | None:
    """Seconds after midnight of `12:10` or `12:10:30`, up to `24:00`; None for anything else."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        return None
    hour, minute, second = (int(part or 0) for part in match.groups())
    moment = hour * 3600 + minute * 60 + second
    return moment if moment <= DAY else None
