"""What changed between two versions of a guideline, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest


@dataclass(frozen=True, slots=True)
class Wording:
    """A version as it reads: each phase in words, and the rest by its label."""

    phases: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]


def changes(before: Wording, after: Wording) -> list[str]:
    """One sentence for each change, phases first; empty if the two read the same."""
    return [*_phases(before.phases, after.phases), *_facts(dict(before.facts), dict(after.facts))]


def _phases(before: Sequence[str], after: Sequence[str]) -> list[str]:
    said = []
    for number, (old, new) in enumerate(zip_longest(before, after), start=1):
        if old is None:
            said.append(f"Phase {number} is new: “{new}”.")
        elif new is None:
            said.append(f"Phase {number} is gone: “{old}”.")
        elif old != new:
            said.append(f"Phase {number}: was “{old}”, now “{new}”.")
    return said


def _facts(before: dict[str, str], after: dict[str, str]) -> list[str]:
    return [f"{label}: was “{before[label]}”, now “{now}”." for label, now in after.items() if before.get(label) != now]
