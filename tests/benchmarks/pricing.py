"""How fast the pure pricing is, in processor time: `uv run python -m tests.benchmarks.pricing`."""

from collections.abc import Callable
from datetime import timedelta
from time import process_time

from billing.money.call_out import CallOut, Split
from billing.money.packages import Package
from billing.money.tax import Tax
from billing.quotes.budget import search
from billing.quotes.comparison import compare
from billing.quotes.lining_up import line_up
from billing.quotes.request import Budget, OtherStop
from clients.plans.cadence import DaysOff, OnDayOff, Phase
from clients.plans.coverage import Guideline
from tests.billing.quotes.requests import START, D, hire, option, request, visits

DAYS = 26 * 7
GUIDELINE = Guideline((Phase(DAYS, full_every=3, spots_per_day=1),), tolerance_days=1)


def timed(name: str, limit: float, work: Callable[[], object], times: int = 3) -> None:
    fastest = min(_seconds(work) for _ in range(times))
    print(f"{name}: {fastest * 1000:.0f} ms (limit {limit * 1000:.0f} ms) {'ok' if fastest < limit else 'SLOW'}")


def _seconds(work: Callable[[], object]) -> float:
    begun = process_time()
    work()
    return process_time() - begun


def half_a_year(*options, **changes):
    return request(*options, days=DAYS, guideline=GUIDELINE, **changes)


def schedules(count: int) -> list:
    """As many different ones: each begins on another day, so that nothing is worked out once for many."""
    return [
        half_a_year(
            option(
                "one",
                visits(
                    Phase(DAYS, full_every=1 + place % 31, spots_per_day=place % 3),
                    off=["SU"],
                    on_day_off=OnDayOff.NEXT,
                ),
            ),
            start=START + timedelta(days=place),
        )
        for place in range(count)
    ]


def eight_options_and_three_horses():
    plans = [
        visits(Phase(DAYS, full_every=2 + place, spots_per_day=place % 2), off=["SU"], on_day_off=OnDayOff.NEXT)
        for place in range(7)
    ]
    plans.append(hire(Phase(DAYS, full_every=3, spots_per_day=1), follow_ups=12))
    others = tuple(OtherStop(START + timedelta(days=7 * week), "Diary", 2) for week in range(26))
    return half_a_year(
        *[option(f"option {place}", plan, plan, plan) for place, plan in enumerate(plans)],
        owners=("One", "Two", "One"),
        others=others,
        tax=Tax(D("8.875")),
        call_out=CallOut(D("30.00"), Split.OWNER),
    )


def within_a_budget():
    packages = tuple(Package(f"{count}", count * D("85.00"), {"full": count}, days=180) for count in (3, 5, 10, 20, 30))
    budget = Budget(D("5000.00"), days_off=DaysOff.of(["SU"]), on_day_off="next", follow_ups=2)
    weekly = option("one", visits(Phase(DAYS, full_every=7)))
    return half_a_year(weekly, budget=budget, packages=packages)


def six_horses_apart():
    plans = [visits(Phase(DAYS - 14, full_every=3 + place), shift=3 + place) for place in range(6)]
    return half_a_year(option("apart", *plans), owners=("One", "Two") * 3)


def main() -> None:
    many = schedules(500)
    timed("500 schedules x 26 weeks", 1.0, lambda: [compare(each) for each in many])
    wide = eight_options_and_three_horses()
    timed("8 options x 3 horses x 26 weeks", 0.1, lambda: compare(wide))
    timed("budget search, 26 weeks, five packages", 0.3, lambda: search(within_a_budget()))
    apart = six_horses_apart()
    timed("line up six horses, 26 weeks, 3 days", 1.0, lambda: line_up(apart, apart.options[0], 3))


if __name__ == "__main__":
    main()
