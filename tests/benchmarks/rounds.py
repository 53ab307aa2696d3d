"""Processor seconds to plan a random day of 6, 12 and 25 stops, reasons included.

`uv run python -m tests.benchmarks.rounds`
"""

from statistics import median
from time import process_time

from clients.rounds.solver import plan_day
from tests.clients.rounds.days import random_day

DAYS = 7


def seconds(stops: int) -> list[float]:
    taken = []
    for seed in range(DAYS):
        request = random_day(seed, stops)
        begun = process_time()
        plan_day(request)
        taken.append(process_time() - begun)
    return taken


def main() -> None:
    plan_day(random_day(0, 9))  # the solver's library is read once
    for stops in (6, 12, 25):
        taken = seconds(stops)
        print(f"{stops} stops: median {median(taken):.2f} s, worst {max(taken):.2f} s")


if __name__ == "__main__":
    main()
