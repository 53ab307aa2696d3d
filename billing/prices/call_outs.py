"""What one stop costs by a rule, and why."""

from dataclasses import dataclass
from decimal import Decimal

from billing.money.distance import Band, amount_beyond_radius, amount_by_bands
from billing.money.words import say_amount
from billing.prices.models import CallOutRule
from billing.prices.words import plain_number


@dataclass(frozen=True, slots=True)
class Stop:
    """The amount of one stop, before it is shared, and how far it was; `missing` says why there is no amount."""

    amount: Decimal | None
    why: str = ""
    missing: str = ""


def price_stop(rule: CallOutRule, distance: Decimal | None, unit: str, currency: str) -> Stop:
    """By the rule's way; a minimum holds wherever something is counted by distance."""
    if rule.way == CallOutRule.Way.FLAT:
        return Stop(rule.amount)
    if distance is None:
        return Stop(None, missing="The call-out goes by distance, and the barn or your base has no place on the map.")
    away = f"{plain_number(distance)} {unit}"
    if rule.way == CallOutRule.Way.BANDS:
        found = amount_by_bands([Band(band.amount, band.to) for band in rule.bands.all()], distance)
        if found is None:
            return Stop(None, missing=f"The barn is {away} away, beyond the last band of the call-out rule.")
        why = away
    else:
        found = amount_beyond_radius(rule.free, rule.per_unit, distance, currency)
        why = f"{away}, {plain_number(rule.free)} free, then {say_amount(rule.per_unit, currency)} each"
    if found < rule.minimum:
        return Stop(rule.minimum, f"{why}, at least {say_amount(rule.minimum, currency)}")
    return Stop(found, why)
