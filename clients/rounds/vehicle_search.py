"""PyVRP asked in one way by everything that plans drives: counted, seeded, quiet, and able to be stopped."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pyvrp

SEED = 1
_FEW_STOPS, _ITERATIONS_FOR_FEW = 15, 1_000
_ITERATIONS_A_STOP, _MOST_ITERATIONS = 200, 5_000
# With a short memory of what was accepted, and taken back to the best found when nothing comes of it, the search is
# nearer to the best known rounds after the same time than with PyVRP's own settings (tests/benchmarks/rounds.py).
_MEMORY, _PATIENCE = 50, 1_500


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search: by counted iterations and a seed, never by the clock, so that what is planned twice comes out
    the same. `goes_on` is asked before each iteration with its number; when it says no, the best so far is kept."""

    iterations: int
    seed: int = SEED
    goes_on: Callable[[int], bool] = lambda _made: True

    @classmethod
    def for_stops(cls, stops: int) -> "Effort":
        """Enough to reach the best day known in nearly all trials up to 25 stops for one practitioner."""
        if stops <= _FEW_STOPS:
            return cls(_ITERATIONS_FOR_FEW)
        return cls(min(_MOST_ITERATIONS, stops * _ITERATIONS_A_STOP))


def best_found(
    model: "pyvrp.Model", effort: Effort, *, max_penalty: float, start: "pyvrp.Solution | None" = None
) -> "pyvrp.Solution | None":
    """The best solution that keeps the model's rules, or None where none was found.

    `max_penalty` bounds what a broken rule may cost on the way; it must outweigh the model's largest prizes.
    """
    from pyvrp import IteratedLocalSearchParams, PenaltyParams, SolveParams
    from pyvrp.exceptions import PenaltyBoundWarning

    with warnings.catch_warnings():
        # Prizes far apart drive the penalties to their bound; whoever asks judges what comes out by its own rules.
        warnings.simplefilter("ignore", PenaltyBoundWarning)
        result = model.solve(
            _Stop(effort),
            seed=effort.seed,
            collect_stats=False,
            display=False,
            initial_solution=start,
            params=SolveParams(
                ils=IteratedLocalSearchParams(num_iters_no_improvement=_PATIENCE, history_length=_MEMORY),
                penalty=PenaltyParams(max_penalty=max_penalty),
            ),
        )
    return result.best if result.is_feasible() else None


class _Stop:
    """PyVRP's question whether to stop, answered by counted iterations or by somebody who has seen enough."""

    def __init__(self, effort: Effort) -> None:
        self.effort, self.made = effort, 0

    def __call__(self, best_cost: int) -> bool:
        self.made += 1
        return self.made > self.effort.iterations or not self.effort.goes_on(self.made)

    def fraction_remaining(self) -> float | None:
        return None
