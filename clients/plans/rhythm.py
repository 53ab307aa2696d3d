"""How often full bodies are given: the four ways to say it, the rule that each becomes, and a rule in plain words."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from clients.plans.cadence import MONTH_NAMES, Phase
from clients.plans.recurrence import WEEKDAYS, WrongRule, read_rule

SHORTEST_MONTH = 28
WEEKDAY_WORDS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", -1: "last", -2: "last but one"}
PERIODS = {"DAILY": "day", "WEEKLY": "week", "MONTHLY": "month", "YEARLY": "year"}


class Way(StrEnum):
    """The way in which a rhythm is said."""

    NONE = "none"
    DAYS = "days"
    WEEKDAYS = "weekdays"
    MONTHLY = "monthly"
    RULE = "rule"


@dataclass(frozen=True, slots=True)
class Rhythm:
    """A rhythm as a person would fill it in; `phase_columns` are those of `cadence.Phase`."""

    way: Way
    every: int | None = None
    weekdays: tuple[str, ...] = ()
    month_day: int | None = None
    rule: str = ""


def rule_of_weekdays(weekdays: Iterable[str]) -> str:
    """The RFC 5545 rule of sessions on these weekdays ("MO", "TH") of every week."""
    chosen = set(weekdays)
    return "FREQ=WEEKLY;BYDAY=" + ",".join(day for day in WEEKDAYS if day in chosen)


def rule_of_month_day(day: int) -> str:
    """The rule of one session a month on `day` (1 to 31); a month that is too short uses its last day."""
    if day <= SHORTEST_MONTH:
        return f"FREQ=MONTHLY;BYMONTHDAY={day}"
    days = ",".join(str(each) for each in range(SHORTEST_MONTH, day + 1))
    return f"FREQ=MONTHLY;BYMONTHDAY={days};BYSETPOS=-1"


def read_rhythm(full_every: int | None, full_rule: str) -> Rhythm:
    """The way in which a person would say what a phase's columns hold."""
    if full_every is not None:
        return Rhythm(Way.DAYS, every=full_every)
    if not full_rule:
        return Rhythm(Way.NONE)
    parts = _parts(full_rule)
    weekdays = tuple(parts.get("BYDAY", "").split(","))
    if set(weekdays) <= set(WEEKDAYS) and parts == _parts(rule_of_weekdays(weekdays)):
        return Rhythm(Way.WEEKDAYS, weekdays=weekdays)
    for day in range(1, 32):
        if parts == _parts(rule_of_month_day(day)):
            return Rhythm(Way.MONTHLY, month_day=day)
    return Rhythm(Way.RULE, rule=full_rule)


def say_rule(rule: str) -> str:
    """A rule in words, such as "on Mondays and Thursdays"; one with no plain words is said as it stands."""
    try:
        read_rule(rule)
    except WrongRule:
        return f"by the rule {rule}"
    parts = _parts(rule)
    words = _say_days(parts)
    if words is None:
        return f"by the rule {rule}"
    return words + _say_end(parts)


def say_full_bodies(full_every: int | None, full_rule: str) -> str:
    """The full bodies of a phase in words, such as "a full body every 3 days"."""
    if full_every == 1:
        return "a full body every day"
    if full_every is not None:
        return f"a full body every {full_every} days"
    return f"a full body {say_rule(full_rule)}" if full_rule else "no full body"


def say_phase(phase: Phase) -> str:
    """A phase in words, such as "12 days: a full body every 3 days, a spot on each other day"."""
    return f"{phase.days} day{'' if phase.days == 1 else 's'}: {say_sessions(phase)}"


def say_sessions(phase: Phase) -> str:
    """The sessions of a phase in words, such as "a full body every 3 days, a spot on each other day"."""
    words = [say_full_bodies(phase.full_every, phase.full_rule)]
    if phase.full_every == 1 and phase.full_rule == "":
        spots = ""
    else:
        others = "each other day" if phase.full_every or phase.full_rule else "each day"
        spots = {0: "", 1: f"a spot on {others}", 2: f"two spots on {others}"}[phase.spots_per_day]
    words += [spots] if spots else []
    return ", ".join(words)


def _parts(rule: str) -> dict[str, str]:
    """The parts of a rule without those that change nothing."""
    pieces = (piece.partition("=") for piece in rule.strip().upper().removeprefix("RRULE:").split(";"))
    parts = {name: value for name, _, value in pieces}
    if parts.get("INTERVAL") == "1":
        del parts["INTERVAL"]
    if "INTERVAL" not in parts or parts.get("FREQ") != "WEEKLY":
        parts.pop("WKST", None)
    return {
        name: ",".join(sorted(value.split(","))) if name.startswith("BY") else value for name, value in parts.items()
    }


def _say_days(parts: dict[str, str]) -> str | None:
    shape = frozenset(parts) - {"COUNT", "UNTIL", "WKST"}
    every = int(parts.get("INTERVAL", "1"))
    period = PERIODS[parts["FREQ"]]
    if shape <= {"FREQ", "INTERVAL"}:
        return f"every {period}" if every == 1 else f"every {every} {period}s"
    if "INTERVAL" in shape:
        shape -= {"INTERVAL"}
        of = f" of every {every} {period}s" if every > 2 else f" of every second {period}"
    else:
        of = "" if period == "week" else f" of each {period}"
    if parts["FREQ"] == "WEEKLY" and shape == {"FREQ", "BYDAY"}:
        return _say_weekdays(parts["BYDAY"].split(","), of)
    if parts["FREQ"] == "MONTHLY":
        return _say_month(parts, shape, of)
    return None


def _say_weekdays(days: list[str], of: str) -> str:
    chosen = [WEEKDAY_WORDS[WEEKDAYS.index(day)] for day in sorted(days, key=WEEKDAYS.index)]
    if len(chosen) == len(WEEKDAYS) and not of:
        return "every day"
    return f"on {listed([f'{day}s' for day in chosen] if not of else chosen)}{of}"


def _say_month(parts: dict[str, str], shape: frozenset[str], of: str) -> str | None:
    if shape == {"FREQ", "BYDAY"}:
        named = [_say_numbered(day) for day in parts["BYDAY"].split(",")]
        return f"on {listed([name for name in named if name])}{of}" if all(named) else None
    if shape == {"FREQ", "BYMONTHDAY"}:
        return f"on the {listed([say_month_day(int(day)) for day in _by_number(parts['BYMONTHDAY'])])}{of}"
    if shape == {"FREQ", "BYMONTHDAY", "BYSETPOS"}:
        last = max(_by_number(parts["BYMONTHDAY"]))
        if _parts(rule_of_month_day(last))["BYMONTHDAY"] == parts["BYMONTHDAY"] and parts["BYSETPOS"] == "-1":
            return f"on the {say_month_day(last)} or the last day{of}"
    return None


def _by_number(days: str) -> list[int]:
    return sorted(int(day) for day in days.split(","))


def _say_numbered(day: str) -> str:
    """ "the first Monday" of "1MO"; empty for a weekday without a number or with one too far to say."""
    number = int(day[:-2] or 0)
    place = ORDINALS.get(number)
    return f"the {place} {WEEKDAY_WORDS[WEEKDAYS.index(day[-2:])]}" if place else ""


def say_month_day(day: int) -> str:
    """ "31st", "last day" for -1."""
    if day < 0:
        return "last day" if day == -1 else f"{say_month_day(-day)} day from the end"
    ending = "th" if 11 <= day <= 13 else {1: "st", 2: "nd", 3: "rd"}.get(day % 10, "th")
    return f"{day}{ending}"


def _say_end(parts: dict[str, str]) -> str:
    if "COUNT" in parts:
        return ", once" if parts["COUNT"] == "1" else f", {parts['COUNT']} times"
    if "UNTIL" in parts:
        until = read_rule(";".join(f"{name}={value}" for name, value in parts.items())).until
        return f", until {until.day} {MONTH_NAMES[until.month - 1]} {until.year}" if until else ""
    return ""


def listed(words: list[str]) -> str:
    """ "one, two and three"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
