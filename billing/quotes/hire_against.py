"""Hire against visits, side by side, and from where on the one costs less than the other."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from billing.money.pricing import What
from billing.money.words import say_amount
from billing.quotes.comparison import OptionMeasures, guideline_sessions, measure
from billing.quotes.laying import minutes_by_day
from billing.quotes.notices import BreakEven
from billing.quotes.request import Option, PricingRequest

LONGEST_HIRE = 3660


class Measure(StrEnum):
    """How a row's two values are written."""

    MONEY = "money"
    COUNT = "count"
    MINUTES = "minutes"
    PART = "part"


@dataclass(frozen=True, slots=True)
class Row:
    """One measure of both; None where there is nothing to measure."""

    words: str
    measure: Measure
    visits: Decimal | Fraction | int | None
    hire: Decimal | Fraction | int | None


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Both options by every measure.

    `break_evens` say for each machine from how many visits alone the hire costs less, and `days_of_hire` for how many
    days at most it costs no more than these visits, before tax: None if not even for one.
    """

    visits: OptionMeasures
    hire: OptionMeasures
    rows: tuple[Row, ...]
    break_evens: tuple[BreakEven, ...]
    days_of_hire: int | None
    sentence: str


def side_by_side(request: PricingRequest, visits_option: Option, hire_option: Option) -> SideBySide:
    """Compare visits with a hire. Raises ValueError if the one hires, or the other does not."""
    if _hires(visits_option) or not _hires(hire_option):
        raise ValueError("visits stand against a hire")
    planned = guideline_sessions(request)
    visits, hire = measure(request, visits_option, planned), measure(request, hire_option, planned)
    days = _days_of_hire(request, visits, hire)
    return SideBySide(visits, hire, _rows(visits, hire), hire.break_evens, days, _sentence(request, visits, hire, days))


def _hires(option: Option) -> bool:
    return any(plan.hire is not None for plan in option.plans.values())


def _rows(visits: OptionMeasures, hire: OptionMeasures) -> tuple[Row, ...]:
    return (
        Row("In all", Measure.MONEY, visits.total, hire.total),
        Row("A week", Measure.MONEY, visits.per_week, hire.per_week),
        Row("Security deposit, given back", Measure.MONEY, visits.deposit, hire.deposit),
        Row("Guideline covered", Measure.PART, visits.covered, hire.covered),
        Row("Longest gap between full bodies, days", Measure.COUNT, visits.longest_gap, hire.longest_gap),
        Row("Our visits", Measure.COUNT, visits.visits, hire.visits),
        Row("Our hands-on time", Measure.MINUTES, visits.minutes, hire.minutes),
        Row("The owner's own sessions", Measure.COUNT, _own_sessions(visits), _own_sessions(hire)),
        Row("The owner's own time", Measure.MINUTES, visits.owner_minutes, hire.owner_minutes),
        Row("The owner's longest day", Measure.MINUTES, _longest_day(visits), _longest_day(hire)),
    )


def _own_sessions(option: OptionMeasures) -> int:
    return sum(len(horse.days.own) for horse in option.horses)


def _longest_day(option: OptionMeasures) -> int:
    own = (session for horse in option.horses for session in horse.days.own)
    return max(minutes_by_day(own, option.request).values(), default=0)


def _days_of_hire(request: PricingRequest, visits: OptionMeasures, hire: OptionMeasures) -> int | None:
    """The longest hire, with the visits it has, that costs no more than the visits; all but the rent stays."""
    if request.hire is None:
        return None
    machines = len({horse.days.machine for horse in hire.horses if horse.days.machine})
    besides = _before_tax(hire) - sum(line.amount for line in hire.lines if line.what == What.RENT)
    left = _before_tax(visits) - besides
    fits = [days for days in range(1, LONGEST_HIRE + 1) if machines * request.hire.rent(days) <= left]
    return fits[-1] if fits else None


def _before_tax(option: OptionMeasures) -> Decimal:
    return sum((line.amount for line in option.lines if line.what != What.TAX), Decimal(0))


def _sentence(request: PricingRequest, visits: OptionMeasures, hire: OptionMeasures, days: int | None) -> str:
    apart = visits.total - hire.total
    amount = say_amount(abs(apart), request.currency)
    own = f"the owner gives {_say_time(hire.owner_minutes)} of their own time"
    if apart > 0:
        return f"The hire costs {amount} less, and {own}."
    lasts = f" It costs no more for a hire of up to {days} day{'s' if days != 1 else ''}." if days else ""
    return f"The hire costs {amount} more, and {own}.{lasts}" if apart else f"Both cost the same, and {own}."


def _say_time(minutes: int) -> str:
    hours, over = divmod(minutes, 60)
    parts = [f"{hours} h" if hours else "", f"{over} min" if over or not hours else ""]
    return " ".join(part for part in parts if part)
