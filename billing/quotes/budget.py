"""The schedule that covers most of the guideline within a budget."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from billing.quotes.charging import lines_of
from billing.quotes.comparison import (
    OptionMeasures,
    coverage_of,
    guideline_sessions,
    measure,
    whole_coverage,
)
from billing.quotes.laying import LaidOption, lay_option, minutes_by_day
from billing.quotes.owner_money import owners_taxed, total_of
from billing.quotes.request import Budget, Hire, HorsePlan, Option, PricingRequest
from clients.plans.cadence import Kind, OnDayOff, Phase, PlannedSession, Schedule

LONGEST_EVERY = 31


@dataclass(frozen=True, slots=True)
class Best:
    """What fits a budget: the option that covers most, and the cheapest one that would cover more. Both may be None."""

    budget: Budget
    option: OptionMeasures | None
    next_better: OptionMeasures | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """An option weighed by the three things that rank it."""

    option: Option
    total: Decimal
    covered: Fraction
    visits: int

    @property
    def rank(self) -> tuple[Fraction, Decimal, int]:
        """The most covered, then the cheapest, then the fewest visits: smallest first."""
        return -self.covered, self.total, self.visits


def search(request: PricingRequest) -> Best | None:
    """Try a full body every 1 to 31 days, with no spot or one on the days between, by hire and by visits.

    Visits are tried with each package on sale and with none. Every horse follows the same schedule. None without a
    budget.
    """
    budget = request.budget
    if budget is None:
        return None
    planned = guideline_sessions(request)
    if not planned:
        return Best(budget, None, None, "A budget needs a guideline to come near to.")
    candidates = [
        candidate for option in _schedules(request, budget) for candidate in _weigh(request, budget, option, planned)
    ]
    fitting = [candidate for candidate in candidates if candidate.total <= budget.amount]
    best = min(fitting, key=lambda each: each.rank, default=None)
    better = [each for each in candidates if best is None or each.covered > best.covered]
    following = min(better, key=lambda each: (each.total, *each.rank), default=None)
    return Best(
        budget=budget,
        option=measure(request, best.option, planned) if best else None,
        next_better=measure(request, following.option, planned) if following else None,
        sentence=_sentence(budget, best, following),
    )


def _schedules(request: PricingRequest, budget: Budget) -> Iterator[Option]:
    for spots in (0, 1) if Kind.SPOT in request.services else (0,):
        for every in range(1 + spots, LONGEST_EVERY + 1):
            phase = Phase(days=request.days, full_every=every, spots_per_day=spots)
            schedule = Schedule((phase,), budget.days_off, OnDayOff(budget.on_day_off))
            name = _name(every, spots)
            yield _for_all(request, name, HorsePlan(visits=schedule))
            if request.hire is not None:
                plan = HorsePlan(hire=Hire(schedule, budget.follow_ups))
                yield _for_all(request, f"{name}, by hire", plan)


def _for_all(request: PricingRequest, name: str, plan: HorsePlan) -> Option:
    return Option(name, {horse.name: plan for horse in request.horses})


def _name(every: int, spots: int) -> str:
    name = "Full body every day" if every == 1 else f"Full body every {every} days"
    return f"{name}, a spot on each day between" if spots else name


def _weigh(
    request: PricingRequest, budget: Budget, option: Option, planned: Sequence[PlannedSession]
) -> Iterator[Candidate]:
    """The option by itself and, by visits, with each package on sale; nothing if it breaks a limit of the budget."""
    laid = lay_option(request, option)
    if _too_many_visits(request, budget, laid) or _too_long_a_day(request, budget, laid):
        return
    coverage = whole_coverage([coverage_of(request, days, planned) for days in laid.horses])
    covered = (coverage.covered if coverage is not None else None) or Fraction(0)
    for each in (option, *_with_packages(request, option)):
        total = total_of(owners_taxed(request, lines_of(request, replace(laid, option=each))))
        yield Candidate(each, total, covered, len(laid.stops))


def _with_packages(request: PricingRequest, option: Option) -> Iterator[Option]:
    """The option with each package on sale, one for each owner; a hire uses none."""
    if any(plan.hire is not None for plan in option.plans.values()):
        return
    for package in request.packages:
        bought = {horse.owner: (package,) for horse in request.horses}
        yield replace(option, name=f'{option.name}, with the package "{package.name}"', packages=bought)


def _too_many_visits(request: PricingRequest, budget: Budget, laid: LaidOption) -> bool:
    if budget.visits_per_week is None:
        return False
    weeks = Counter((on - request.start).days // 7 for on, _part in laid.stops)
    return max(weeks.values(), default=0) > budget.visits_per_week


def _too_long_a_day(request: PricingRequest, budget: Budget, laid: LaidOption) -> bool:
    if budget.owner_minutes_per_day is None:
        return False
    minutes = minutes_by_day((session for days in laid.horses for session in days.own), request)
    return max(minutes.values(), default=0) > budget.owner_minutes_per_day


def _sentence(budget: Budget, best: Candidate | None, following: Candidate | None) -> str:
    if following is None:
        return "Nothing covers more of the guideline." if best else "No schedule keeps the limits."
    if best is None:
        return f"No schedule fits {budget.amount}. The cheapest costs {following.total}: {following.option.name}."
    more = following.total - best.total
    return f"The next better one costs {more} more: {following.option.name}."
