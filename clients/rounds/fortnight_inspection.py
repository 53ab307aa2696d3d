"""Does a plan of some weeks keep every rule of its request? Told from the plan itself, not from how it was made."""

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from clients.rounds.fortnight import Due, FortnightPlan, PlanRequest, drive_of, standing_now


def faults(request: PlanRequest, plan: FortnightPlan) -> list[str]:
    """Every rule the plan breaks, as sentences with visits by their keys; none for a plan to rely on.

    A plan whose visits are not those of the request is told so and looked at no further. The order of each day is
    inspected with the day's own round.
    """
    strangers = list(_strangers(request, plan))
    if strangers:
        return strangers
    return [*_wrong_days(request, plan), *_too_near(request, plan), *_wrong_sums(request, plan)]


def _strangers(request: PlanRequest, plan: FortnightPlan) -> Iterator[str]:
    told = [*plan.placed, *plan.unplaced]
    asked = [due.key for due in request.dues]
    for key in sorted(set(told) - set(asked)):
        yield f"{key} was not asked for."
    for key in asked:
        if told.count(key) != 1:
            yield f"{key} is told of {told.count(key)} times."


def _wrong_days(request: PlanRequest, plan: FortnightPlan) -> Iterator[str]:
    for due in request.dues:
        where = plan.placed.get(due.key)
        if where is None:
            continue
        if due.is_fixed:
            if where.day != due.stands_on:
                yield f"{due.key} is known to its owner for day {due.stands_on}, but moves to day {where.day}."
            continue
        if where.day not in due.days:
            yield f"{due.key} is on day {where.day}, which its plan does not tolerate."
        if due.persons and where.person not in due.persons:
            yield f"{due.key} is made by {where.person}, who may not."
        shifts = [shift for shift in request.shifts if (shift.day, shift.person) == (where.day, where.person)]
        if not shifts:
            yield f"{due.key} is on day {where.day}, when {where.person} does not work."
        elif due.locked is None and not _is_open(request, due, where.day):
            yield f"{due.key} is on day {where.day}, when its barn takes nobody."


def _is_open(request: PlanRequest, due: Due, day: int) -> bool:
    windows = request.windows.get(due.place)
    return windows is None or any(due.not_before <= window.end for window in windows.get(day, ()))


def _too_near(request: PlanRequest, plan: FortnightPlan) -> Iterator[str]:
    """Two visits of a horse whose days differ by its cadence stay in that order and at least a day apart."""
    by_horse: dict[str, list[Due]] = defaultdict(list)
    for due in request.dues:
        if due.key in plan.placed:
            by_horse[due.horse].append(due)
    for visits in by_horse.values():
        visits.sort(key=lambda due: (due.around, due.key))
        for earlier, later in pairwise(visits):
            if earlier.around == later.around or (earlier.is_fixed and later.is_fixed):
                continue
            if plan.placed[earlier.key].day >= plan.placed[later.key].day:
                yield f"{later.key} is not at least a day after {earlier.key} of the same horse."


def _wrong_sums(request: PlanRequest, plan: FortnightPlan) -> Iterator[str]:
    standing = standing_now(request)
    sums = {
        "before": (plan.drive_before, drive_of(request, standing)),
        "after": (plan.drive_after, drive_of(request, {**standing, **plan.placed})),
    }
    for name, (told, found) in sums.items():
        if told != found:
            yield f"The drive {name} is {found} seconds, not {told}."
