"""When work may start: the barn's windows, the light where it is outdoors, and our own day."""

from dataclasses import dataclass
from datetime import date, time, tzinfo

from django.utils import timezone

from backoffice.access.models import User
from backoffice.business.queries import the_business
from backoffice.ui.words import clock
from clients.animals.models import Animal
from clients.kit.models import Machine
from clients.people.models import Barn
from clients.plans.cadence import say_date
from clients.visits.clashes import first_free, minute_of, time_of
from clients.visits.daylight import Light, light_at
from clients.visits.models import Visit
from clients.visits.queries import MINUTES_BETWEEN_BARNS, taken_on
from clients.workdays.queries import workdays_of


@dataclass(frozen=True, slots=True)
class Window:
    """When work may start, both ends included."""

    opens: time
    closes: time


def windows_on(barn: Barn, day: date, zone: tzinfo, minutes: int = 0) -> list[Window] | None:
    """The barn's windows of the day; None where it is open whenever we are.

    Where the work is outdoors they are cut to the light, so that `minutes` of work end by sunset; none may be left.
    """
    own = [Window(window.opens, window.closes) for window in barn.windows.all() if window.holds_on(day)]
    if not (barn.outdoor_only and barn.is_placed):
        return own or None
    light = light_on(barn, day, zone)
    if light is None or minute_of(light.sunset) - minutes < minute_of(light.sunrise):
        return []
    last = time_of(minute_of(light.sunset) - minutes)
    cut = [
        Window(max(each.opens, light.sunrise), min(each.closes, last)) for each in own or [Window(time.min, time.max)]
    ]
    return [each for each in cut if each.opens <= each.closes]


def light_on(barn: Barn, day: date, zone: tzinfo) -> Light | None:
    """Of a barn that is on the map."""
    return light_at(barn.lat or 0.0, barn.lon or 0.0, day, zone)


def say_light(barn: Barn, day: date, zone: tzinfo) -> str:
    """A sentence where the work is outdoors and needs light; nothing elsewhere."""
    if not (barn.outdoor_only and barn.is_placed):
        return ""
    light = light_on(barn, day, zone)
    if light is None:
        return "Work here is outdoors, and the sun does not rise that day."
    return f"Work here is outdoors: light from {clock(light.sunrise)} to {clock(light.sunset)}."


def first_free_start(
    *,
    day: date,
    practitioner: User,
    barn: Barn,
    minutes: int,
    machine: Machine | None = None,
    animal: Animal | None = None,
    part: int = 1,
) -> time | None:
    """The first start of the day that keeps practitioner, machine and horse in one place and both sides' hours.

    Between two barns half an hour is left; the round of the day works out the real drive. The second part of a day
    begins after the lunch span.
    """
    hours = workdays_of(practitioner, day).hours(practitioner, day)
    if hours is None:
        return None
    opens = max(hours.opens, the_business().lunch_to) if part > 1 else hours.opens
    windows = windows_on(barn, day, timezone.get_current_timezone(), minutes)
    spans = _spans(windows, opens=opens, closes=hours.closes, minutes=minutes)
    taken = [
        each
        for each in taken_on(day)
        if each.practitioner == practitioner.pk
        or (machine is not None and each.machine == machine.pk)
        or (animal is not None and each.animal == animal.pk)
    ]
    start = first_free(taken=taken, barn=barn.pk, minutes=minutes, spans=spans, gap=MINUTES_BETWEEN_BARNS)
    return None if start is None else time_of(start)


def _spans(windows: list[Window] | None, *, opens: time, closes: time, minutes: int) -> list[tuple[int, int]]:
    """Minutes of the day between which work may start: inside a window, and over before our own day ends."""
    first, last = minute_of(opens), minute_of(closes) - minutes
    if windows is None:
        return [(first, last)]
    return [(max(first, minute_of(each.opens)), min(last, minute_of(each.closes))) for each in windows]


def why_outside_hours(visit: Visit) -> str:
    """A sentence when the start is outside the barn's windows or our own day; empty when it is inside both."""
    if visit.starts is None:
        return ""
    zone = timezone.get_current_timezone()
    windows = windows_on(visit.barn, visit.day, zone, visit.minutes)
    day = say_date(visit.day)
    if windows is not None and not any(window.opens <= visit.starts <= window.closes for window in windows):
        spans = " and ".join(f"{clock(w.opens)} to {clock(w.closes)}" for w in windows)
        said = f"On {day} work at {visit.barn} starts from {spans}." if spans else f"On {day} no light is left there."
        return " ".join(filter(None, [said, say_light(visit.barn, visit.day, zone)]))
    hours = workdays_of(visit.practitioner, visit.day).hours(visit.practitioner, visit.day)
    starts = minute_of(visit.starts)
    if hours is not None and (starts < minute_of(hours.opens) or starts + visit.minutes > minute_of(hours.closes)):
        return (
            f"The working day is {clock(hours.opens)} to {clock(hours.closes)}; "
            f"this visit would take {clock(visit.starts)} to {_clock(starts + visit.minutes)}."
        )
    return ""


def _clock(minute: int) -> str:
    """Also for what would end at midnight or later."""
    return f"{minute // 60}:{minute % 60:02}"
