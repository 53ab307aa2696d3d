"""How far a barn is from the base, one way: what a call-out by distance counts."""

from decimal import ROUND_HALF_UP, Decimal

from backoffice.business.models import Business
from backoffice.ui.words import METERS_IN
from clients.people.models import Barn
from clients.rounds.roads import base_of, estimate_of, place_of


def distance_to(barn: Barn, business: Business) -> Decimal | None:
    """By road as the rounds estimate it, in the unit of the business to a tenth; None while a place is not known."""
    base = base_of(business)
    if base is None or not barn.is_placed:
        return None
    table = estimate_of(business).table([base, place_of(barn)])
    away = Decimal(table.metres[0][1]) / METERS_IN[business.distance_unit]
    return away.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def say_distance(business: Business) -> str:
    """Which distance counts, in words for whoever sets the rule."""
    unit = business.get_distance_unit_display()
    return (
        f"The distance is one way in {unit}, from your base to the barn: the straight line times "
        f"{business.circuity.normalize():f}, as your rounds estimate it. Base and factor stand under Settings, "
        "Business; a barn needs its place on the map."
    )
