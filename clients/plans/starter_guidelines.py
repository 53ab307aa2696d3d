"""Two guidelines to start from: common practice, no published source. Goals that need the vet have none on purpose."""

from dataclasses import dataclass

from clients.plans.cadence import Phase


@dataclass(frozen=True, slots=True)
class Starter:
    """A guideline as data: `goal` is the value of `clients.plans.models.Goal`, `source` is shown beside it."""

    name: str
    goal: str
    source: str
    phases: tuple[Phase, ...]
    tolerance_days: int = 1
    spot_needs_full_within: int = 3
    last_full_days_before: int | None = None


STARTERS = (
    Starter(
        name="Ongoing maintenance",
        goal="upkeep",
        source=(
            "Common practice, no published source: a full body, two days of spots, and round again; then a full body "
            "every second week as an example. Change it to your own rule of thumb."
        ),
        phases=(Phase(days=12, full_every=3, spots_per_day=1), Phase(days=84, full_every=14)),
    ),
    Starter(
        name="Around an event",
        goal="event",
        source=(
            "Common practice, no published source: two rounds of a full body and two days of spots before the event. "
            "The show's own rule book decides. Change it to your own rule of thumb."
        ),
        phases=(Phase(days=6, full_every=3, spots_per_day=1),),
        tolerance_days=0,
        last_full_days_before=3,
    ),
)
