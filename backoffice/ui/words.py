"""Amounts, days, times and spans as the pages write them. Pure but for the zone that the request has switched on."""

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from babel.numbers import format_currency, get_currency_precision
from django.utils import timezone

MINUS = "\N{MINUS SIGN}"
NARROW_SPACE = "\N{NO-BREAK SPACE}"


def money(amount: Decimal | int | str | None, business: Any = None, *, is_rate: bool = False) -> str:
    """`1250` → "$1,250.00", in the currency of the business, or of a paper as frozen, with as many decimals as ISO 4217
    gives it; a rate keeps all that it has: "$0.725" a mile."""
    if amount is None or amount == "":
        return ""
    currency = _said_by(business, "currency", "USD")
    locale = "en_GB" if _said_by(business, "words", "us") == "uk" else "en_US"
    value = Decimal(amount)
    if not is_rate:
        places = Decimal(1).scaleb(-get_currency_precision(currency))
        value = value.quantize(places, rounding=ROUND_HALF_UP)
    text = format_currency(abs(value), currency, locale=locale, decimal_quantization=not is_rate)
    return f"{MINUS}{text}" if value < 0 else text


def _said_by(business: Any, name: str, otherwise: str) -> str:
    found = business.get(name, otherwise) if isinstance(business, Mapping) else getattr(business, name, otherwise)
    return str(found)


def local(value: date | datetime) -> date:
    """The local date of a date or of a moment."""
    if isinstance(value, datetime):
        return timezone.localtime(value).date() if timezone.is_aware(value) else value.date()
    return value


def day(value: date | datetime | None, today: date | None = None) -> str:
    """ "Thu 12 Mar"; with the year when it is not the year of `today`."""
    if not value:
        return ""
    there = local(value)
    this_year = (today or timezone.localdate()).year
    text = f"{there:%a} {there.day} {there:%b}"
    return text if there.year == this_year else f"{text} {there.year}"


def clock(value: time | datetime | None) -> str:
    """ "8:30", on the 24-hour clock of the trade's round sheet."""
    if value is None or value == "":
        return ""
    if isinstance(value, datetime) and timezone.is_aware(value):
        value = timezone.localtime(value)
    return f"{value.hour}:{value.minute:02d}"


def hours(minutes: int | Decimal | float | None) -> str:
    """Minutes as "20 min", "1 h 20" or "3 h"."""
    if minutes is None or minutes == "":
        return ""
    whole = int(Decimal(str(minutes)).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    sign, (full, rest) = (MINUS if whole < 0 else ""), divmod(abs(whole), 60)
    if not full:
        return f"{sign}{rest}{NARROW_SPACE}min"
    return f"{sign}{full}{NARROW_SPACE}h{NARROW_SPACE}{rest:02d}" if rest else f"{sign}{full}{NARROW_SPACE}h"


def percent_down(share: Fraction | Decimal | float | None) -> str:
    """A share of one as whole percent, rounded down: 0.999 is 99 %, never 100."""
    if share is None or share == "":
        return ""
    return f"{int(Fraction(str(share)) * 100)}{NARROW_SPACE}%"


METERS_IN = {"mi": Decimal("1609.344"), "km": Decimal(1000)}


def distance(meters: int | str | None, business: Any = None) -> str:
    """Meters as whole miles or kilometers, by the setting of the business: "61 miles"."""
    if meters is None or meters == "":
        return ""
    unit = getattr(business, "distance_unit", "mi")
    whole = int((Decimal(meters) / METERS_IN[unit]).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    if unit == "km":
        return f"{whole}{NARROW_SPACE}km"
    return f"{whole}{NARROW_SPACE}mile{'' if whole == 1 else 's'}"


def in_fours(code: str) -> str:
    """An IBAN or a payment reference as it is read out: in groups of four."""
    return " ".join(code[start : start + 4] for start in range(0, len(code), 4))
