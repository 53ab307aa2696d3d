"""A planned day as JSON and as plain lines to read."""

from typing import Any

from clients.rounds.clock import clock
from clients.rounds.day_round import DayPlan, LunchPlace, PlannedLunch


def plan_as_json(plan: DayPlan) -> dict[str, Any]:
    """The plan with times as `HH:MM` (`HH:MM:SS` where there are seconds) and lengths in minutes."""
    return {
        "order": [
            {"id": stop.key, "arrive": clock(stop.arrive), "start": clock(stop.start), "end": clock(stop.end)}
            for stop in plan.order
        ],
        "lunch": None if plan.lunch is None else clock(plan.lunch.start),
        "leave": None if plan.leave is None else clock(plan.leave),
        "back": None if plan.back is None else clock(plan.back),
        "drive_minutes": _minutes(plan.drive_seconds),
        "wait_minutes": _minutes(plan.wait_seconds),
        "unplaced": [
            {
                "id": unplaced.key,
                "reasons": [{"code": reason.code.value, "sentence": reason.sentence} for reason in unplaced.reasons],
            }
            for unplaced in plan.unplaced
        ],
        "notices": list(plan.notices),
    }


def plan_as_text(plan: DayPlan) -> str:
    """The plan as lines in the order of the day, then its sums, then what has no place and why."""
    lines = [text for _, text in sorted(_happenings(plan), key=lambda happening: happening[0])]
    lines += ["", f"{_minutes(plan.drive_seconds)} min of drive, {_minutes(plan.wait_seconds)} min of waiting"]
    lines += list(plan.notices)
    for unplaced in plan.unplaced:
        reasons = " ".join(reason.sentence for reason in unplaced.reasons)
        lines.append(f"No place for {unplaced.key}: {reasons}")
    return "\n".join(lines) + "\n"


def _happenings(plan: DayPlan) -> list[tuple[tuple[int, int], str]]:
    """Each with its moment and its rank among those of the same moment."""
    told: list[tuple[tuple[int, int], str]] = []
    if plan.leave is None or plan.back is None:
        told.append(((-(10**9), 0), "No stop has a place in this day."))
    else:
        told.append(((plan.leave, 0), f"{clock(plan.leave)}  leave the base"))
        told.append(((plan.back, len(plan.order) + 1), f"{clock(plan.back)}  back at the base"))
    for number, stop in enumerate(plan.order, start=1):
        waited = f" (there at {clock(stop.arrive)})" if stop.arrive < stop.start else ""
        told.append(((stop.start, number), f"{clock(stop.start)}  {stop.key} until {clock(stop.end)}{waited}"))
    if plan.lunch is not None:
        told.append(
            (
                (plan.lunch.start, _lunch_rank(plan, plan.lunch)),
                f"{clock(plan.lunch.start)}  lunch {_where(plan.lunch)} until {clock(plan.lunch.end)}",
            )
        )
    return told


def _lunch_rank(plan: DayPlan, lunch: PlannedLunch) -> int:
    return len(plan.order) + 2 if lunch.where is LunchPlace.AFTER_RETURN else 0


def _where(lunch: PlannedLunch) -> str:
    return "at the base" if lunch.key is None else f"at {lunch.key}"


def _minutes(seconds: int) -> int | float:
    """Whole minutes as they are, others with two decimals."""
    return seconds // 60 if seconds % 60 == 0 else round(seconds / 60, 2)
