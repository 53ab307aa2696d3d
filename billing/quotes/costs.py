"""What the practitioner's own time and driving cost for a quote: read from the settings, never shown to an owner."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from backoffice.business.queries import the_business
from billing.prices.queries import cost_rates_on
from billing.quotes.comparison import OptionMeasures
from billing.quotes.earnings import Costs, Earnings, earnings_of, price_to_meet_target
from billing.quotes.queries import Shown
from clients.people.models import Barn
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.travel import METRES_IN_A_MILE


@dataclass(frozen=True, slots=True)
class EarnedRow:
    """What an option earns; `price` is what a full body would have to cost to meet the target, where it does not."""

    name: str
    earned: Earnings
    price: Decimal | None = None


def earnings_by_option(shown: Shown, barn: Barn, *, on: date) -> list[EarnedRow] | None:
    """One row an option; None while the barn, the base or the cost rates are not known."""
    costs = costs_of(barn, on=on)
    if costs is None or shown.comparison is None:
        return None
    currency = shown.comparison.request.currency
    return [_row(row.measures, costs, currency) for row in shown.rows]


def _row(measures: OptionMeasures, costs: Costs, currency: str) -> EarnedRow:
    earned = earnings_of(measures, costs, currency)
    wanted = None if earned.meets_target else price_to_meet_target(measures, costs)
    return EarnedRow(measures.name, earned, wanted.price if wanted else None)


def costs_of(barn: Barn, *, on: date) -> Costs | None:
    """One stop at the barn, driven there and back alone: the most it can cost."""
    business, rates = the_business(), cost_rates_on(on)
    base = base_of(business)
    if rates is None or base is None or not barn.is_placed:
        return None
    drive = roads_of(business).table([base, place_of(barn)])
    miles = Decimal(2 * drive.metres[0][1]) / Decimal(str(METRES_IN_A_MILE))
    return Costs(
        drive_minutes=round(2 * drive.seconds[0][1] / 60),
        drive_miles=miles.quantize(Decimal("0.1")),
        setup_minutes=business.setup_minutes,
        admin_minutes=rates.admin_minutes_per_visit,
        per_mile=rates.vehicle_per_mile,
        hourly_target=rates.hourly_target,
    )
