"""Two weeks planned at once: `uv run python -m tests.benchmarks.planner [plans] [seconds]`.

Prints what forty plans with some 140 visits for two people in fourteen days cost in driving after so many seconds, and
after ten times as many, with what was saved and left out. Invented barns on a square of forty miles, from a seed.
"""

import json
import random
import sys
from time import perf_counter

from clients.rounds.day_round import Lunch, Span
from clients.rounds.fortnight import Due, FortnightPlan, PlanRequest, Shift
from clients.rounds.planner import plan_days
from clients.rounds.travel import Place, StraightLine
from clients.rounds.vehicle_search import Effort

HOUR = 3600
BARNS, DAYS = 14, 14
MANY = 10**9


def fortnight(plans: int, *, seed: int = 7, people: tuple[str, ...] = ("A", "B")) -> PlanRequest:
    """Plans of every second to seventh day with a tolerance of one or two days, each at one of the barns."""
    dice = random.Random(seed)
    places = [Place(39.35, -104.60)] + [
        Place(39.35 + dice.uniform(-0.3, 0.3), -104.60 + dice.uniform(-0.35, 0.35)) for _ in range(BARNS)
    ]
    drive = StraightLine().table(places).seconds
    dues = []
    for number in range(plans):
        place, every = dice.randint(1, BARNS), dice.choice([3, 3, 4, 4, 7])
        tolerance = 2 if every == 7 else 1
        for around in range(dice.randrange(every), DAYS, every):
            days = tuple(day for day in range(around - tolerance, around + tolerance + 1) if 0 <= day < DAYS)
            dues.append(Due(f"{number}-{around}", str(number), place, 45 * 60, around, days, stands_on=around))
    shifts = tuple(Shift(day, person, Span(8 * HOUR, 17 * HOUR)) for day in range(DAYS) for person in people)
    lunch = Lunch(1800, Span(11 * HOUR + 1800, 13 * HOUR + 1800))
    return PlanRequest(drive, tuple(dues), shifts, setup_seconds=900, lunch=lunch)


def planned(request: PlanRequest, seconds: float) -> tuple[FortnightPlan, float]:
    start = perf_counter()
    return plan_days(request, Effort(MANY, goes_on=lambda _: perf_counter() - start < seconds)), perf_counter() - start


def main() -> None:
    plans = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    request = fortnight(plans)
    figures = []
    for limit in (seconds, 10 * seconds):
        plan, took = planned(request, limit)
        figures.append(plan.drive_after)
        print(
            f"{len(request.dues)} visits, {limit:.0f} s allowed, {took:.1f} s taken: "
            f"{plan.drive_before / 60:.0f} min of driving before, {plan.drive_after / 60:.0f} after, "
            f"{len(plan.unplaced)} without a place, {plan.rounds} rounds"
        )
    print(json.dumps({"visits": len(request.dues), "short": figures[0], "long": figures[1]}))


if __name__ == "__main__":
    main()
