"""Places on the map, as people paste them: “39.5, -104.72” or “39.5 N, 104.72 W”. Decimal degrees, WGS 84."""

import re
import unicodedata
from math import asin, cos, radians, sin, sqrt

NUMBER = re.compile(r"([+-]?\d{1,3}(?:\.\d{1,15})?)\s*°?\s*([NSEW])?", re.IGNORECASE)
UNREADABLE = "Write latitude and longitude in degrees, such as 39.5, -104.72."
EARTH_KM = 6371.0


def parse_place(typed: str) -> tuple[float, float]:
    """Latitude and longitude in degrees. Raises ValueError with a sentence for what is no place on earth."""
    text = unicodedata.normalize("NFKC", typed).replace("\N{MINUS SIGN}", "-").strip()
    parts = [part for part in re.split(r"[,;]|\s+(?=[+\-\d])", text) if part.strip()]
    if len(parts) != 2:
        raise ValueError(UNREADABLE)
    lat, lon = _degrees(parts[0], "N", "S"), _degrees(parts[1], "E", "W")
    if abs(lat) > 90 >= abs(lon):
        raise ValueError(f"A latitude of {lat:g} is beyond the pole. Are the two numbers the wrong way round?")
    if abs(lat) > 90:
        raise ValueError(f"A latitude lies between -90 and 90; this is {lat:g}.")
    if abs(lon) > 180:
        raise ValueError(f"A longitude lies between -180 and 180; this is {lon:g}.")
    return lat, lon


def _degrees(part: str, plus: str, minus: str) -> float:
    found = NUMBER.fullmatch(part.strip())
    letter = found[2].upper() if found and found[2] else plus
    if found is None or letter not in {plus, minus}:
        raise ValueError(UNREADABLE)
    degrees = float(found[1])
    return -abs(degrees) if letter == minus else degrees


def say_place(lat: float, lon: float) -> str:
    return f"{lat:.6g}, {lon:.7g}"


def km_between(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Kilometers in a straight line on a sphere (haversine): good to half a percent."""
    (lat, lon), (other_lat, other_lon) = ((radians(lat), radians(lon)) for lat, lon in (one, other))
    half = sin((other_lat - lat) / 2) ** 2 + cos(lat) * cos(other_lat) * sin((other_lon - lon) / 2) ** 2
    return 2 * EARTH_KM * asin(sqrt(half))
