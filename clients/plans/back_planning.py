"""Planning back from an event: the start that puts the last full body the wished number of days before it."""

from dataclasses import dataclass
from datetime import date, timedelta

from clients.plans.cadence import Kind, Schedule, say_date, start_before_event


class NoStart(ValueError):
    """No start fits. The message is a plain sentence."""


@dataclass(frozen=True, slots=True)
class BackPlanned:
    """A start, the last full body that it gives, and a sentence for the screen."""

    start: date
    last_full: date
    sentence: str


def plan_back(schedule: Schedule, event: date, days_before: int, *, on: date) -> BackPlanned:
    """The start for an event, as seen on the day `on`; raises `NoStart` for an event in the past and the like."""
    if event < on:
        raise NoStart(f"The event on {say_date(event)} is past.")
    start = start_before_event(schedule, event, days_before)
    if start is None:
        raise NoStart("There is no full body to count from the event.")
    if start < on:
        raise NoStart(f"For the event on {say_date(event)} it would have to start on {say_date(start)}, which is past.")
    full_days = [session.on for session in schedule.expand(start).sessions if session.kind == Kind.FULL]
    asked, given = event - timedelta(days=days_before), full_days[-1]
    sentence = f"It starts on {say_date(start)}; the last full body is on {say_date(given)}"
    early = (asked - given).days
    if early:
        sentence += f", {early} day{'' if early == 1 else 's'} earlier than asked, by its weekdays or days off"
    return BackPlanned(start, given, f"{sentence}.")
