"""Only for the practitioner: what an option leaves for each hour, the driving counted."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from billing.money.rounding import round_money
from billing.quotes.comparison import OptionMeasures


@dataclass(frozen=True, slots=True)
class Costs:
    """What one stop costs the practitioner: the drive there and back alone, set-up, admin, and the vehicle."""

    drive_minutes: int
    drive_miles: Decimal
    setup_minutes: int
    admin_minutes: int
    per_mile: Decimal
    hourly_target: Decimal


@dataclass(frozen=True, slots=True)
class Earnings:
    drive_minutes: int
    drive_miles: Decimal
    working_minutes: int
    vehicle: Decimal
    left: Decimal
    per_hour: Decimal | None
    target: Decimal

    @property
    def meets_target(self) -> bool:
        return self.per_hour is not None and self.per_hour >= self.target


def earnings_of(option: OptionMeasures, costs: Costs, currency: str) -> Earnings:
    """(Total before tax − vehicle) / (hands-on + set-up + drive + admin), every stop driven alone: the least it earns.

    Minutes whole, money in `currency`; `per_hour` is None for an option without our time.
    """
    net = sum((owner.net for owner in option.owners), Decimal(0))
    drive = option.visits * costs.drive_minutes
    miles = option.visits * costs.drive_miles
    working = option.minutes + drive + option.visits * (costs.setup_minutes + costs.admin_minutes)
    vehicle = round_money(Fraction(miles) * Fraction(costs.per_mile), currency)
    left = net - vehicle
    return Earnings(
        drive_minutes=drive,
        drive_miles=miles,
        working_minutes=working,
        vehicle=vehicle,
        left=left,
        per_hour=round_money(Fraction(left) * 60 / working, currency) if working else None,
        target=costs.hourly_target,
    )
