"""A row of phases drawn as strips of days, with what they add up to: what the guideline editor shows as one types."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from clients.plans.cadence import Kind, Phase, PlannedSession, lay
from clients.plans.rhythm import listed, say_sessions
from clients.plans.strip import StripDay, strip_of

LONGEST_STRIP = 112


@dataclass(frozen=True, slots=True)
class DrawnPhase:
    """One phase: its first and last day counted from 1, its words, and its days as far as they are drawn."""

    first: int
    last: int
    words: str
    days: tuple[StripDay, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    phases: tuple[DrawnPhase, ...]
    days: int
    full_bodies: int
    spots: int
    last_full: int | None

    @property
    def sums(self) -> str:
        """The sessions in words, such as "11 full bodies and 8 spots in 96 days"."""
        counted = [(self.full_bodies, "full body", "full bodies"), (self.spots, "spot", "spots")]
        words = [f"{count} {one if count == 1 else many}" for count, one, many in counted if count]
        return f"{listed(words) if words else 'no session'} in {self.days} day{'' if self.days == 1 else 's'}"

    @property
    def is_cut(self) -> bool:
        return sum(len(phase.days) for phase in self.phases) < self.days

    def before_event(self, days_before: int) -> str:
        """When an event comes, counted from the start, in words; empty without a full body."""
        if self.last_full is None:
            return ""
        return (
            f"The last full body, on day {self.last_full}, falls {days_before} day{'' if days_before == 1 else 's'} "
            f"before the event: it starts {self.last_full - 1 + days_before} days before it."
        )


def draw(phases: Sequence[Phase], start: date) -> Drawing:
    """The phases laid from `start`; at most `LONGEST_STRIP` days in all are drawn."""
    total = sum(phase.days for phase in phases)
    sessions = lay(tuple(phases), start, total)
    drawn: list[DrawnPhase] = []
    before = 0
    for phase in phases:
        shown = min(phase.days, max(0, LONGEST_STRIP - before))
        first = start + timedelta(days=before)
        strip = tuple(strip_of(_between(sessions, first, shown), first, shown))
        drawn.append(DrawnPhase(before + 1, before + phase.days, say_sessions(phase), strip))
        before += phase.days
    full = [session.on for session in sessions if session.kind == Kind.FULL]
    return Drawing(
        phases=tuple(drawn),
        days=total,
        full_bodies=len(full),
        spots=len(sessions) - len(full),
        last_full=(full[-1] - start).days + 1 if full else None,
    )


def _between(sessions: Sequence[PlannedSession], first: date, days: int) -> list[PlannedSession]:
    end = first + timedelta(days=days)
    return [session for session in sessions if first <= session.on < end]
