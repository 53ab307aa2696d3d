"""How far a barn is from the base, one way: what a call-out by distance counts."""

from decimal import ROUND_HALF_UP, Decimal

from backoffice.business.models import Business
from backoffice.ui.words import METERS_IN
from clients.people.models import Barn
from clients.rounds.travel import Place, StraightLine


def distance_to(barn: Barn, business: Business) -> Decimal | None:
    """By road as the rounds estimate it, in the unit of the business to a tenth; None while a place is not known."""
    if business.base_lat is None or business.base_lon is None or barn.lat is None or barn.lon is None:
        return None
    roads = StraightLine(circuity=float(business.circuity), speed_mph=float(business.speed_mph))
    table = roads.table([Place(business.base_lat, business.base_lon), Place(barn.lat, barn.lon)])
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
