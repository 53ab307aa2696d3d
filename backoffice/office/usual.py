"""What is usual in a country: its money, paper, distances, spelling, and the time zone of its only or largest part."""

from dataclasses import dataclass
from datetime import date
from importlib.resources import files

from babel.numbers import get_territory_currencies

from backoffice.business.models import Business

LETTER_COUNTRIES = {"US", "CA", "MX", "PH", "CL", "CO", "VE", "CR", "PA", "GT", "SV", "NI", "DO", "PR"}
MILES_COUNTRIES = {"US", "GB", "LR"}
BRITISH_SPELLING = {"GB", "IE", "AU", "NZ", "ZA", "IN", "MT", "CY", "SG", "HK", "JM", "KE", "NG"}
USUAL_ZONE = {"US": "America/Denver", "CA": "America/Toronto", "AU": "Australia/Sydney"}


@dataclass(frozen=True, slots=True)
class Usual:
    currency: str
    paper: str
    distance_unit: str
    words: str
    time_zone: str


def usual_in(country: str, on: date) -> Usual:
    """Currency by the Unicode CLDR, paper by ISO 216 or US Letter, time zone by the IANA table."""
    currencies = get_territory_currencies(country, on, on) or ["USD"]
    return Usual(
        currency=currencies[0],
        paper=Business.Paper.LETTER if country in LETTER_COUNTRIES else Business.Paper.A4,
        distance_unit=Business.Distance.MILES if country in MILES_COUNTRIES else Business.Distance.KILOMETERS,
        words=Business.Words.UK if country in BRITISH_SPELLING else Business.Words.US,
        time_zone=USUAL_ZONE.get(country) or _first_zone(country),
    )


def _first_zone(country: str) -> str:
    table = files("tzdata.zoneinfo").joinpath("zone.tab").read_text(encoding="utf-8")
    for line in table.splitlines():
        if not line.startswith("#") and line.split("\t")[0] == country:
            return line.split("\t")[2]
    return "UTC"
