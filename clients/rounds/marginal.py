"""What one more plan costs in driving: the weeks planned with it and without it, and the difference.

Both are found from the same seed and each begins where the other ended, so that the difference is the plan and not the
luck of two searches. What luck is left shows as a range over several seeds.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from clients.rounds.day_round import BASE
from clients.rounds.fortnight import Due, FortnightPlan, Placed, PlanRequest, length_by, places_of, standing_now
from clients.rounds.loop import length_of, shortest_loop
from clients.rounds.planner import plan_days
from clients.rounds.vehicle_search import Effort

ITERATIONS, SEEDS = 2_000, 3
WEEK = 7

Matrix = Sequence[Sequence[int]]


@dataclass(frozen=True, slots=True)
class Range:
    """From the least to the most that was found, never below nothing nor above `alone`: each visit out and back."""

    least: int
    most: int
    alone: int

    @classmethod
    def of(cls, found: Sequence[int], alone: int) -> "Range":
        least, most = (min(max(0, each), alone) for each in (min(found), max(found)))
        return cls(least, most, alone)

    def times(self, factor: Fraction) -> "Range":
        return Range(ceil(self.least * factor), ceil(self.most * factor), ceil(self.alone * factor))


@dataclass(frozen=True, slots=True)
class MarginalCost:
    """Extra drive of `visits` visits in seconds and metres. `best_weekday` (0 is Monday) is the day on which one visit
    adds least to the weeks without it, None where nobody can come; `unplaced` is how many of the visits found no place,
    and were counted where they are due. Seed, seeds and iterations are kept so that it can be found again."""

    visits: int
    seconds: Range
    metres: Range
    best_weekday: int | None
    unplaced: int
    seed: int
    seeds: int
    iterations: int

    def over(self, visits: int) -> "MarginalCost":
        """The same for a term with so many visits, as if each cost what these cost on average; rounded up."""
        factor = Fraction(visits, self.visits)
        return replace(self, visits=visits, seconds=self.seconds.times(factor), metres=self.metres.times(factor))


def cost_of_one_more(
    request: PlanRequest,
    added: Sequence[Due],
    metres: Matrix,
    *,
    first_weekday: int,
    effort: Effort | None = None,
    seeds: int = SEEDS,
) -> MarginalCost:
    """What the visits `added` cost beside those of `request`, whose matrix holds their places too.

    `metres` is the distance between the same places, `first_weekday` the weekday of day 0. Raises ValueError without a
    visit or a seed, which are mistakes of the caller.
    """
    if not added or seeds < 1:
        raise ValueError("One more plan has a visit, and is tried with a seed.")
    effort = effort or Effort(ITERATIONS)
    both = replace(request, dues=(*request.dues, *added))
    pairs = [_pair(request, both, replace(effort, seed=effort.seed + number)) for number in range(seeds)]
    return MarginalCost(
        visits=len(added),
        seconds=Range.of([more.drive_after - less.drive_after for less, more in pairs], _alone(request.drive, added)),
        metres=Range.of(
            [_length(both, metres, more) - _length(request, metres, less) for less, more in pairs],
            _alone(metres, added),
        ),
        best_weekday=_best_weekday(request, pairs[0][0].placed, added, first_weekday),
        unplaced=sum(due.key in pairs[0][1].unplaced for due in added),
        seed=effort.seed,
        seeds=seeds,
        iterations=effort.iterations,
    )


def _pair(request: PlanRequest, both: PlanRequest, effort: Effort) -> tuple[FortnightPlan, FortnightPlan]:
    """The weeks without and with: with is found, without begins from it, and with is tried again from there."""
    first = plan_days(both, effort)
    without = plan_days(request, effort, start=first.placed)
    again = plan_days(both, effort, start={**first.placed, **without.placed})
    return without, min(first, again, key=lambda plan: (len(plan.unplaced), plan.drive_after))


def _length(request: PlanRequest, metres: Matrix, plan: FortnightPlan) -> int:
    return length_by(request, metres, {**standing_now(request), **plan.placed})


def _alone(matrix: Matrix, added: Sequence[Due]) -> int:
    return sum(matrix[BASE][due.place] + matrix[due.place][BASE] for due in added)


def _best_weekday(
    request: PlanRequest, placed: Mapping[str, Placed], added: Sequence[Due], first_weekday: int
) -> int | None:
    """The weekday on which the first of the visits adds the least drive, on the average of its days."""
    there = places_of(request, placed)
    extra: dict[int, dict[int, int]] = defaultdict(dict)
    for shift in request.shifts:
        due = replace(added[0], days=(shift.day,), locked=None)
        if request.starts(due, shift):
            places = there.get(Placed(shift.day, shift.person), set())
            longer, now = (_loop(request.drive, at) for at in (places | {due.place}, places))
            on_weekday = extra[(first_weekday + shift.day) % WEEK]
            on_weekday[shift.day] = min(longer - now, on_weekday.get(shift.day, longer - now))
    means = {weekday: Fraction(sum(days.values()), len(days)) for weekday, days in extra.items()}
    return min(means, key=lambda weekday: (means[weekday], weekday), default=None)


def _loop(drive: Matrix, places: set[int]) -> int:
    return length_of(drive, shortest_loop(drive, places))
