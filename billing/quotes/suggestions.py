"""Options that follow from a guideline, so that a quote opens with something to compare."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from clients.plans.cadence import Phase

WEEK, MONTH = 7, 28
MOST_PHASES = 4
OPENING = 3
OPENING_KEYS = ("whole", "full", "weekly", "fortnight", "monthly")


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An option that takes one tap: its name, what happens, and its phases, given by visits or with a hired machine."""

    key: str
    name: str
    text: str
    phases: tuple[Phase, ...]
    is_hire: bool = False
    follow_ups: int = 0
    package: int | None = None
    monthly_plan: int | None = None


def suggest(guideline: Sequence[Phase], days: int, *, hire: bool = False) -> list[Suggestion]:
    """The guideline whole, its full bodies only, half as often, weekly and monthly; each different schedule once.

    `guideline` holds the phases of the guideline (none: only weekly, every other week and monthly); `days` is the term.
    With `hire`, the owner may also follow the whole guideline with a hired machine, seen by us every other week.
    """
    phases = fitted(guideline, days)[:MOST_PHASES]
    found: list[Suggestion] = []
    if phases:
        found += [
            Suggestion("whole", "The whole guideline", "Full bodies and the spots between", phases),
            Suggestion("full", "Full bodies only", "The guideline without its spots", _without_spots(phases)),
            Suggestion("half", "Half as often", "Every second full body of the guideline", _half_as_often(phases)),
        ]
    found += [
        Suggestion("weekly", "Weekly", "One full body a week", (Phase(days, full_every=WEEK),)),
        Suggestion(
            "fortnight", "Every other week", "One full body every other week", (Phase(days, full_every=2 * WEEK),)
        ),
        Suggestion("monthly", "Monthly", "One full body every four weeks", (Phase(days, full_every=MONTH),)),
    ]
    if phases and hire:
        text = "You give the sessions with a hired machine; we train you and look in"
        follow_ups = days // (2 * WEEK)
        found.append(Suggestion("hire", "By hire", text, phases, is_hire=True, follow_ups=follow_ups))
    return _each_once(found)


def opening(suggestions: Sequence[Suggestion]) -> list[Suggestion]:
    """The three that a draft opens with; the others are one tap away."""
    by_key = {each.key: each for each in suggestions}
    return [by_key[key] for key in OPENING_KEYS if key in by_key][:OPENING]


def fitted(guideline: Sequence[Phase], days: int) -> tuple[Phase, ...]:
    """The phases that begin within the term; the last one ends with the term."""
    fitted: list[Phase] = []
    begun = 0
    for phase in guideline:
        if begun >= days:
            break
        fitted.append(phase)
        begun += phase.days
    if fitted and begun != days:
        fitted[-1] = replace(fitted[-1], days=fitted[-1].days + days - begun)
    return tuple(fitted)


def _without_spots(phases: Sequence[Phase]) -> tuple[Phase, ...]:
    return tuple(replace(phase, spots_per_day=0) for phase in phases)


def _half_as_often(phases: Sequence[Phase]) -> tuple[Phase, ...]:
    return tuple(
        replace(phase, full_every=2 * phase.full_every if phase.full_every else None)
        for phase in _without_spots(phases)
    )


def _each_once(found: Sequence[Suggestion]) -> list[Suggestion]:
    seen: set[tuple[bool, tuple[Phase, ...]]] = set()
    once: list[Suggestion] = []
    for suggestion in found:
        if (suggestion.is_hire, suggestion.phases) not in seen:
            seen.add((suggestion.is_hire, suggestion.phases))
            once.append(suggestion)
    return once
