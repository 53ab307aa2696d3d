"""How good and how quick the solver of the rounds is, beside the raw solvers on the same input.

`uv run python -m tests.benchmarks.rounds [--seconds S]` prints every instance of ../shared/data (Solomon with 25 and
with 100 customers, TSPLIB) with our cost, raw PyVRP's (its own settings, the same seed and time) and raw VROOM's (one
thread, its deepest search; it stops by itself), then how long our own days take.
`… INSTANCE [--customers K] [--seconds S]` solves one; its last line is JSON. Seconds are of the processor.
"""

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import process_time

import numpy as np
import pyvrp
import vroom

from clients.rounds.solver import plan_day
from clients.rounds.team import plan_team
from clients.rounds.vehicle_search import SEED, Effort, best_found
from tests.benchmarks.instances import DATA, Instance, names, read
from tests.benchmarks.teams import team_of
from tests.clients.rounds.days import random_day

MANY = 10**9
PYVRP_PENALTY = 1e5  # its own bound
DAYS = 7
SMALL = 25


@dataclass(frozen=True, slots=True)
class Solved:
    """The published figure of what was found (None: nothing that keeps the rules), and the seconds it took."""

    cost: float | None
    seconds: float

    def gap(self, instance: Instance) -> float | None:
        """Percent above the best known."""
        if self.cost is None or instance.best_known is None:
            return None
        return round(100 * (self.cost / instance.best_known - 1), 3)


def model_of(instance: Instance) -> pyvrp.Model:
    model = pyvrp.Model()
    places = [model.add_location(0, 0) for _ in instance.customers]
    depot = model.add_depot(places[0])
    for place, customer in zip(places[1:], instance.customers[1:], strict=True):
        model.add_client(
            place,
            delivery=customer.demand,
            service_duration=customer.seconds,
            tw_early=customer.opens,
            tw_late=customer.closes,
        )
    for here, row in zip(places, instance.distance, strict=True):
        for there, length in zip(places, row, strict=True):
            if here is not there:
                model.add_edge(here, there, distance=length, duration=length)
    model.add_vehicle_type(
        instance.vehicles,
        capacity=instance.capacity,
        start_depot=depot,
        end_depot=depot,
        tw_late=instance.customers[0].closes,
    )
    return model


def ours(instance: Instance, seconds: float) -> Solved:
    begun = process_time()
    return solved_by_us(instance, Effort(MANY, goes_on=lambda _: process_time() - begun < seconds))


def solved_by_us(instance: Instance, effort: Effort) -> Solved:
    begun = process_time()
    best = best_found(model_of(instance), effort, max_penalty=PYVRP_PENALTY)
    return Solved(None if best is None else best.distance() / instance.unit, process_time() - begun)


def raw_pyvrp(instance: Instance, seconds: float) -> Solved:
    begun = process_time()
    result = model_of(instance).solve(
        lambda _: process_time() - begun >= seconds, seed=SEED, collect_stats=False, display=False
    )
    cost = result.best.distance() / instance.unit if result.is_feasible() else None
    return Solved(cost, process_time() - begun)


def raw_vroom(instance: Instance, _seconds: float) -> Solved:
    begun = process_time()
    problem = vroom.Input()
    problem.set_durations_matrix("car", np.array(instance.distance, dtype=np.uint32))
    for number in range(instance.vehicles):
        problem.add_vehicle(
            vroom.Vehicle(
                number,
                start=0,
                end=0,
                capacity=vroom.Amount([instance.capacity]),
                time_window=vroom.TimeWindow(0, instance.customers[0].closes),
            )
        )
    for number, customer in enumerate(instance.customers[1:], start=1):
        problem.add_job(
            vroom.Job(
                number,
                location=number,
                default_service=customer.seconds,
                delivery=vroom.Amount([customer.demand]),
                time_windows=[vroom.TimeWindow(customer.opens, customer.closes)],
            )
        )
    solution = problem.solve(exploration_level=5, nb_threads=1)
    whole = not solution.unassigned
    return Solved(solution.summary.cost / instance.unit if whole else None, process_time() - begun)


SOLVERS: dict[str, Callable[[Instance, float], Solved]] = {"ours": ours, "PyVRP": raw_pyvrp, "VROOM": raw_vroom}


def print_table(seconds: float) -> None:
    print(f"{'instance':<12}{'places':>7}{'best':>10}" + "".join(f"{name:>12}{'gap %':>8}{'s':>7}" for name in SOLVERS))
    groups = [
        ("25 customers", SMALL, min(seconds, 1.0), "C R"),
        ("100 customers", None, seconds, "C R"),
        ("TSPLIB", None, seconds, ""),
    ]
    for title, customers, limit, starts in groups:
        gaps: dict[str, list[float]] = {name: [] for name in SOLVERS}
        for name in names():
            if (name[0] in "CR") != bool(starts):
                continue
            instance = read(name, customers)
            print(_row(instance, limit, gaps), flush=True)
        for name, found in gaps.items():
            print(f"  {title}, {name}: median {median(found):.2f} %, worst {max(found):.2f} %")


def _row(instance: Instance, seconds: float, gaps: dict[str, list[float]]) -> str:
    cells = [f"{instance.name:<12}{len(instance.customers):>7}{instance.best_known:>10}"]
    for name, solve in SOLVERS.items():
        solved = solve(instance, seconds)
        gap = solved.gap(instance)
        if gap is None:
            cells.append(f"{'none':>12}{'':>8}{solved.seconds:>7.2f}")
            continue
        gaps[name].append(gap)
        cells.append(f"{solved.cost:>12}{gap:>8.2f}{solved.seconds:>7.2f}")
    return "".join(cells)


def print_days() -> None:
    plan_day(random_day(0, 9))  # the solver's library is read once
    for stops in (6, 12, 25):
        taken = []
        for seed in range(DAYS):
            request, begun = random_day(seed, stops), process_time()
            plan_day(request)
            taken.append(process_time() - begun)
        print(f"a day of {stops} stops, with reasons: median {median(taken):.2f} s, worst {max(taken):.2f} s")


def print_teams() -> None:
    for stops, people in ((12, 2), (25, 2), (60, 5)):
        request, begun = team_of(stops, people), process_time()
        plan = plan_team(request)
        drive = sum(day.drive_seconds for day in plan.days.values()) / 60
        print(
            f"{stops} stops with {people} people: {process_time() - begun:.2f} s, "
            f"{len(plan.unplaced)} without a place, {drive:.0f} min of driving"
        )


def print_one(instance: Instance, seconds: float) -> None:
    solved = ours(instance, seconds)
    print(
        json.dumps(
            {
                "instance": instance.name,
                "cost": solved.cost,
                "best_known": instance.best_known,
                "gap": solved.gap(instance),
                "seconds": round(solved.seconds, 2),
            }
        )
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("instance", nargs="?", help="one instance by its name, such as R101 or berlin52")
    parser.add_argument("--customers", type=int, help="only its first so many customers")
    parser.add_argument("--seconds", type=float, default=5.0)
    options = parser.parse_args()
    if options.instance is None:
        if names():
            print_table(options.seconds)
        else:
            print(f"There are no published instances in {DATA}: set SHARED_DATA to their folder. Our own days follow.")
        print_days()
        print_teams()
        return
    try:
        instance = read(options.instance, options.customers)
    except ValueError as error:
        parser.error(str(error))
    print_one(instance, options.seconds)


if __name__ == "__main__":
    main()
