"""What a quote's options could be instead: their days lined up, and a hire set against visits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from billing.quotes.hire_against import SideBySide, side_by_side
from billing.quotes.lining_up import LinedUp, line_up
from billing.quotes.models import Option, Quote
from billing.quotes.queries import horses_of
from billing.quotes.quote_file import horse_names, request_of
from billing.quotes.reading import WrongFile
from billing.quotes.request import PricingRequest

LONGEST_MOVE = 3


@dataclass(frozen=True, slots=True)
class Move:
    """A horse that would start on another day."""

    name: str
    days: int

    @property
    def size(self) -> int:
        return abs(self.days)

    @property
    def is_later(self) -> bool:
        return self.days > 0


@dataclass(frozen=True, slots=True)
class Lining:
    """An option, what lining its days up would change (None: nothing to gain), and whether it is lined up now."""

    option: Option
    lined: LinedUp | None
    moves: Sequence[Move]
    is_shifted: bool

    @property
    def stops_saved(self) -> int:
        return self.lined.stops_before - self.lined.stops_after if self.lined else 0

    @property
    def saved(self) -> Decimal:
        return self.lined.saved if self.lined else Decimal(0)


def linings_of(quote: Quote, *, on: date) -> list[Lining]:
    """Each option that is shown, for a quote of several horses; none while it cannot be priced."""
    request = _request(quote, on)
    if request is None:
        return []
    options = {each.name: each for each in quote.options.prefetch_related("schedules")}
    return [_lining(request, options[each.name], on) for each in request.options]


def _lining(request: PricingRequest, option: Option, on: date) -> Lining:
    asked = next(each for each in request.options if each.name == option.name)
    lined = line_up(request, asked, LONGEST_MOVE)
    moves = [
        Move(name, shift - asked.plans[name].shift)
        for name, shift in (lined.shifts if lined else {}).items()
        if shift != asked.plans[name].shift
    ]
    return Lining(option, lined, moves, any(each.shift for each in option.schedules.all()))


def shifts_of(option: Option, *, on: date) -> dict[int, int]:
    """By the horse's key, how many days after the start it would begin with its days lined up."""
    request = _request(option.quote, on)
    asked = next((each for each in request.options if each.name == option.name), None) if request else None
    lined = line_up(request, asked, LONGEST_MOVE) if request and asked else None
    names = horse_names(horses_of(option.quote))
    return {pk: lined.shifts[name] for pk, name in names.items()} if lined else {}


@dataclass(frozen=True, slots=True)
class Against:
    """A hire and visits side by side, with the names that may be chosen instead."""

    side: SideBySide
    visits: Sequence[str]
    hires: Sequence[str]

    @property
    def apart(self) -> Decimal:
        return abs(self.side.visits.total - self.side.hire.total)

    @property
    def hire_costs_less(self) -> bool:
        return self.side.hire.total < self.side.visits.total


def against(quote: Quote, visits: str, hire: str, *, on: date) -> Against | None:
    """The two options of these names, or the first of each sort; None without a hire or without visits."""
    request = _request(quote, on)
    if request is None:
        return None
    hires = {each.name: each for each in request.options if any(plan.hire for plan in each.plans.values())}
    others = {each.name: each for each in request.options if each.name not in hires}
    if not hires or not others:
        return None
    chosen = others.get(visits) or next(iter(others.values()))
    hired = hires.get(hire) or next(iter(hires.values()))
    return Against(side_by_side(replace(request, budget=None), chosen, hired), list(others), list(hires))


def _request(quote: Quote, on: date) -> PricingRequest | None:
    try:
        return request_of(quote, on=on)
    except WrongFile:
        return None
