"""How fast the pure pricing is, in processor time: `uv run python -m tests.benchmarks.pricing`."""

from collections.abc import Callable
from datetime import timedelta
from time import process_time

from billing.money.call_out import CallOut, Split
from billing.money.tax import Tax
from billing.quotes.budget import search
from billing.quotes.comparison import compare
from billing.quotes.request import Budget, OtherStop
from clients.plans.cadence import OnDayOff, Phase
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


def main() -> None:
    many = schedules(500)
    timed("500 schedules x 26 weeks", 1.0, lambda: [compare(each) for each in many])
    wide = eight_options_and_three_horses()
    timed("8 options x 3 horses x 26 weeks", 0.1, lambda: compare(wide))
    budget = half_a_year(option("one", visits(Phase(DAYS, full_every=7))), budget=Budget(D("5000.00"), follow_ups=2))
    timed("budget search, 26 weeks", 0.3, lambda: search(budget))


if __name__ == "__main__":
    main()
