"""Only for the practitioner: what an option leaves for each hour, and the price that would meet the target."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from billing.money.pricing import Line, What
from billing.money.rounding import from_units, minor_digits, round_money
from billing.quotes.comparison import OptionMeasures
from clients.plans.cadence import Kind


@dataclass(frozen=True, slots=True)
class Costs:
    """What one stop costs the practitioner: the drive there and back alone, set-up, admin, and the vehicle.

    Besides, an hour of the machine's use, by us or by an owner, and what a card costs: percent of all that is paid, and
    so much for each payment.
    """

    drive_minutes: int
    drive_miles: Decimal
    setup_minutes: int
    admin_minutes: int
    per_mile: Decimal
    hourly_target: Decimal
    machine_per_hour: Decimal = Decimal(0)
    card_percent: Decimal = Decimal(0)
    card_each: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Earnings:
    """Before tax. `left` is the money less vehicle, machine and card."""

    drive_minutes: int
    drive_miles: Decimal
    working_minutes: int
    vehicle: Decimal
    machine: Decimal
    card: Decimal
    left: Decimal
    per_hour: Decimal | None
    target: Decimal

    @property
    def meets_target(self) -> bool:
        return self.per_hour is not None and self.per_hour >= self.target


def earnings_of(option: OptionMeasures, costs: Costs, currency: str) -> Earnings:
    """(Total before tax − costs) / (hands-on + set-up + drive + admin), every stop driven alone: the least it earns.

    Minutes whole, money in `currency`; `per_hour` is None for an option without our time.
    """
    net = sum((owner.net for owner in option.owners), Decimal(0))
    working = _working_minutes(option, costs)
    vehicle = round_money(_vehicle(option, costs), currency)
    machine = round_money(_machine(option, costs), currency)
    card = round_money(Fraction(option.total) * _card_part(costs) + _card_fixed(option, costs), currency)
    left = net - vehicle - machine - card
    return Earnings(
        drive_minutes=option.visits * costs.drive_minutes,
        drive_miles=option.visits * costs.drive_miles,
        working_minutes=working,
        vehicle=vehicle,
        machine=machine,
        card=card,
        left=left,
        per_hour=round_money(Fraction(left) * 60 / working, currency) if working else None,
        target=costs.hourly_target,
    )


def _working_minutes(option: OptionMeasures, costs: Costs) -> int:
    return option.minutes + option.visits * (costs.drive_minutes + costs.setup_minutes + costs.admin_minutes)


def _vehicle(option: OptionMeasures, costs: Costs) -> Fraction:
    return Fraction(option.visits * costs.drive_miles) * Fraction(costs.per_mile)


def _machine(option: OptionMeasures, costs: Costs) -> Fraction:
    return Fraction(option.minutes + option.owner_minutes, 60) * Fraction(costs.machine_per_hour)


def _card_part(costs: Costs) -> Fraction:
    return Fraction(costs.card_percent) / 100


def _card_fixed(option: OptionMeasures, costs: Costs) -> Fraction:
    return len(option.payments) * Fraction(costs.card_each) if costs.card_each else Fraction(0)


@dataclass(frozen=True, slots=True)
class TargetPrice:
    """A price of the full body: exact, and in whole minor units, rounded up."""

    exact: Fraction
    price: Decimal


def price_to_meet_target(option: OptionMeasures, costs: Costs) -> TargetPrice | None:
    """The price of a full body, the same for any number of them, at which the option earns the hourly target.

    Everything else stays: other prices, minutes, stops, a discount, tax. None if no full body is charged at the list
    price, or if a card takes everything.
    """
    request = option.request
    full = [line for line in option.lines if line.what == What.FULL and _at_list_price(option, line)]
    count = sum(line.count for line in full)
    taxed = 1 + Fraction(request.tax.rate) / 100
    kept = 1 - _card_part(costs) * taxed
    if not count or kept <= 0:
        return None
    wages = Fraction(costs.hourly_target) * _working_minutes(option, costs) / 60
    net = (wages + _vehicle(option, costs) + _machine(option, costs) + _card_fixed(option, costs)) / kept
    gross = net * taxed if request.tax.included else net
    discount = option.option.discount
    if discount is not None and discount.portion.percent is not None:
        if discount.portion.percent >= 100:
            return None
        gross /= 1 - Fraction(discount.portion.percent) / 100
    others = sum(Fraction(line.amount) for line in option.lines if line not in full and _stays(option, line))
    exact = max((gross - others) / count, Fraction(0))
    units = -(-exact * 10 ** minor_digits(request.currency) // 1)
    return TargetPrice(exact, from_units(int(units), request.currency))


def _at_list_price(option: OptionMeasures, line: Line) -> bool:
    plan = option.option.plans[line.horse].monthly
    return plan is None or Kind.FULL not in plan.beyond


def _stays(option: OptionMeasures, line: Line) -> bool:
    """Whether a line is money that does not change with the price: not tax, nor a percentage taken off."""
    discount = option.option.discount
    by_percent = discount is not None and discount.portion.percent is not None
    return line.what != What.TAX and not (line.what == What.DISCOUNT and by_percent)
