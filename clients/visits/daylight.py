"""Light to work by: sunrise and sunset at a place on a day, as the local clock says them."""

from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Light:
    sunrise: time
    sunset: time


MIDNIGHT_SUN = Light(time.min, time(23, 59))


@lru_cache(maxsize=4096)
def light_at(latitude: float, longitude: float, day: date, zone: tzinfo) -> Light | None:
    """When the sun's upper edge crosses a level horizon, to the minute; None where it does not rise that day.

    By the equations of NOAA's solar calculator, in the library astral; good to a minute or two away from the poles.
    """
    from astral import Observer
    from astral.sun import elevation, sun

    observer = Observer(latitude, longitude)
    try:
        found = sun(observer, date=day, tzinfo=zone)
    except ValueError:
        noon = datetime.combine(day, time(12), tzinfo=zone)
        return MIDNIGHT_SUN if elevation(observer, noon) > 0 else None
    sunrise, sunset = (found[name].replace(second=0, microsecond=0) for name in ("sunrise", "sunset"))
    return Light(sunrise.time(), sunset.time())
