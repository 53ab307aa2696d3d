"""Weeks planned at once: every rule kept, by an audit of its own; the least drive, by trying every plan there is."""

from collections import defaultdict
from itertools import pairwise, permutations, product
from random import Random

import pytest

from clients.rounds.day_round import Isolation, Lunch, Span
from clients.rounds.fortnight import Due, FortnightPlan, Placed, PlanRequest, Reason, Shift, standing_now
from clients.rounds.planner import plan_days
from clients.rounds.vehicle_search import Effort

HOUR = 3600
QUICK = Effort(iterations=400)
NINE_TO_FIVE = Span(9 * HOUR, 17 * HOUR)


def shifts(days=range(7), people=("A",), span=NINE_TO_FIVE) -> tuple[Shift, ...]:
    return tuple(Shift(day, person, span) for day in days for person in people)


def everywhere(places: int, minutes: int = 20) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(0 if i == j else 60 * minutes for j in range(places + 1)) for i in range(places + 1))


def due(key: str, place: int = 1, *, around: int = 2, tolerance: int = 1, **more) -> Due:
    days = tuple(range(max(0, around - tolerance), around + tolerance + 1))
    fields = {"horse": key, "seconds": HOUR, "stands_on": around, "days": days, **more}
    return Due(key, place=place, around=around, **fields)


def fixed(key: str, place: int = 1, *, on: int, **more) -> Due:
    return due(key, place, around=on, tolerance=0, is_fixed=True, **more)


def plan(*dues: Due, places: int = 3, **fields) -> FortnightPlan:
    return plan_days(PlanRequest(**{"drive": everywhere(places), "dues": dues, "shifts": shifts(), **fields}), QUICK)


# What it is for


def test_visits_at_one_barn_come_together_within_their_tolerance():
    found = plan(due("a", around=1), due("b", around=3))
    assert found.placed["a"].day == found.placed["b"].day == 2
    assert (found.drive_before, found.drive_after) == (4 * 1200, 2 * 1200)


def test_what_an_owner_knows_never_moves_and_others_join_it():
    found = plan(fixed("known", on=3), due("a", around=4), due("b", around=2))
    assert {key: where.day for key, where in found.placed.items()} == {"known": 3, "a": 3, "b": 3}


def test_beyond_the_tolerance_nothing_moves_however_near():
    found = plan(fixed("known", on=0), due("a", around=2))
    assert found.placed["a"].day == 2


def test_where_nothing_is_saved_nothing_moves():
    found = plan(due("a", 1, around=1), due("b", 2, around=4))
    assert {key: where.day for key, where in found.placed.items()} == {"a": 1, "b": 4}
    assert found.seconds_saved == 0


def test_an_area_day_is_worth_a_quarter_of_an_hour_and_no_more():
    area = frozenset({(1, 3)})
    assert plan(due("a", around=2), area_days=area).placed["a"].day == 3
    far = plan(due("a", around=2), fixed("b", on=1), area_days=area)
    assert far.placed["a"].day == 1


def test_the_person_of_a_plan_comes_and_nobody_else():
    people = shifts(people=("A", "B"))
    found = plan(due("a", persons=("B",)), fixed("b", on=2, persons=("A",)), shifts=people)
    assert (found.placed["a"].person, found.placed["b"].person) == ("B", "A")


def test_a_person_away_is_not_counted_on():
    found = plan(due("a", around=2), shifts=shifts(days=(0, 1, 3, 4)))
    assert found.placed["a"].day in (1, 3)


def test_two_visits_of_a_horse_stay_a_day_apart_and_in_order():
    found = plan(due("a", around=2, horse="h", tolerance=2), due("b", around=4, horse="h", tolerance=2))
    assert found.placed["a"].day < found.placed["b"].day


def test_a_full_day_sends_a_visit_to_another():
    found = plan(*(due(str(n), around=2, horse=str(n), seconds=2 * HOUR) for n in range(5)))
    days = [where.day for where in found.placed.values()]
    assert len(days) == 5
    assert max(days.count(day) for day in days) <= 3


def test_isolation_sends_a_visit_to_a_day_of_its_own():
    late_and_clean = fixed("clean", 1, on=2, locked=16 * HOUR, seconds=1800)
    sick = due("sick", 2, around=2, isolation=Isolation.INFECTED)
    found = plan(late_and_clean, sick, lunch=Lunch(1800, Span(12 * HOUR, 13 * HOUR)))
    assert found.placed["clean"].day == 2
    assert found.placed["sick"].day in (1, 3)


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"shifts": shifts(days=(5, 6))}, Reason.NO_HOURS),
        ({"windows": {1: {5: (NINE_TO_FIVE,)}}}, Reason.CLOSED),
        ({"shifts": shifts(span=Span(9 * HOUR, 9 * HOUR + 1200))}, Reason.NO_ROOM),
    ],
)
def test_what_has_no_place_is_listed_with_its_reason(fields, reason):
    found = plan(due("a"), **fields)
    assert found.unplaced == {"a": reason}
    assert reason.sentence.endswith(".")
    assert found.drive_before == found.drive_after


def test_nothing_due_is_no_plan():
    assert plan().placed == {}


@pytest.mark.parametrize(
    "fields",
    [
        {"dues": (due("a"), due("a"))},
        {"shifts": (*shifts(days=(0,)), *shifts(days=(0,)))},
        {"dues": (due("a", 9),)},
        {"dues": (due("a", 0),)},
    ],
)
def test_a_mistake_of_the_caller_is_an_error(fields):
    with pytest.raises(ValueError, match=r"."):
        PlanRequest(**{"drive": everywhere(3), "dues": (), "shifts": (), **fields})


def test_a_search_that_is_stopped_keeps_the_best_so_far():
    request = random_weeks(3)
    seen: list[int] = []

    def goes_on(made: int) -> bool:
        seen.append(made)
        return made < 50

    found = plan_days(request, Effort(100_000, goes_on=goes_on))
    assert max(seen[:-1]) <= 51
    audit(request, found)


def test_the_same_request_gives_the_same_plan():
    assert plan_days(random_weeks(5), QUICK) == plan_days(random_weeks(5), QUICK)


# The audit: the rules as stated, read again


def random_weeks(seed: int, *, dues: int = 14, days: int = 7) -> PlanRequest:
    dice = Random(seed)
    places = 5
    at = [(dice.uniform(0, 40), dice.uniform(0, 40)) for _ in range(places + 1)]
    drive = tuple(tuple(round(90 * (abs(a - c) + abs(b - d))) for c, d in at) for a, b in at)
    people = ("A", "B") if seed % 2 else ("A",)
    made = []
    for number in range(dues):
        around, tolerance = dice.randrange(days), dice.choice([0, 1, 1, 2])
        span = tuple(day for day in range(around - tolerance, around + tolerance + 1) if 0 <= day < days)
        known = dice.random() < 0.2
        made.append(
            Due(
                key=str(number),
                horse=str(number % 9),
                place=dice.randint(1, places),
                seconds=60 * dice.choice([20, 45, 60]),
                around=around,
                days=(around,) if known else span,
                stands_on=around,
                is_fixed=known,
                persons=("A",) if dice.random() < 0.2 else (),
            )
        )
    windows = {1: {day: (Span(10 * HOUR, 12 * HOUR),) for day in range(days) if day % 3}}
    return PlanRequest(drive, tuple(made), shifts(range(days), people), 600, windows=windows)


def audit(request: PlanRequest, found: FortnightPlan) -> None:
    dues = {each.key: each for each in request.dues}
    assert set(found.placed) | set(found.unplaced) == set(dues)
    assert not set(found.placed) & set(found.unplaced)
    work = {(shift.day, shift.person): shift.span for shift in request.shifts}
    on_day: dict[Placed, list[Due]] = defaultdict(list)
    for key, where in found.placed.items():
        each = dues[key]
        assert where.day in each.days
        assert (where.day, where.person) in work
        assert not each.persons or where.person in each.persons
        if each.place in request.windows and not each.is_fixed:
            assert where.day in request.windows[each.place]
        on_day[where].append(each)
    for where, there in on_day.items():
        if all(each.is_fixed for each in there):
            continue
        places = {each.place for each in there}
        least = shortest_by_trying(request, places) + request.setup_seconds * len(places)
        span = work[where.day, where.person]
        assert least + sum(each.seconds for each in there) <= span.end - span.start
    by_horse: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for key, where in found.placed.items():
        by_horse[dues[key].horse].append((dues[key].around, where.day))
    for visits in by_horse.values():
        for (first, day), (second, later) in pairwise(sorted(visits)):
            assert first == second or day < later


def shortest_by_trying(request: PlanRequest, places) -> int:
    ways = ([0, *order, 0] for order in permutations(sorted(places)))
    return min(sum(request.drive[a][b] for a, b in pairwise(way)) for way in ways)


@pytest.mark.parametrize("seed", range(12))
def test_every_plan_keeps_every_rule(seed):
    request = random_weeks(seed)
    found = plan_days(request, QUICK)
    audit(request, found)
    assert found.drive_after == drive_by_trying(request, {**standing_now(request), **found.placed})


def drive_by_trying(request: PlanRequest, placed) -> int:
    at: dict[Placed, set[int]] = defaultdict(set)
    for each in request.dues:
        at[placed[each.key]].add(each.place)
    return sum(shortest_by_trying(request, places) for places in at.values())


def worth(request: PlanRequest, placed) -> int:
    """As documented: drive, against fifteen minutes for an area day, five for staying, one for each day nearer."""
    total = -drive_by_trying(request, placed)
    for each in request.dues:
        day = placed[each.key].day
        total += 900 * ((each.place, day) in request.area_days) + 300 * (day == each.stands_on)
        total -= 60 * abs(day - each.around)
    return total


@pytest.mark.parametrize("seed", range(20))
def test_small_plans_are_the_best_of_all_there_are(seed):
    dice = Random(seed)
    at = [(dice.uniform(0, 40), dice.uniform(0, 40)) for _ in range(4)]
    drive = tuple(tuple(round(90 * (abs(a - c) + abs(b - d))) for c, d in at) for a, b in at)
    dues = tuple(
        due(str(number), dice.randint(1, 3), around=dice.randint(1, 4), seconds=1800, tolerance=dice.choice([1, 2]))
        for number in range(5)
    )
    area = frozenset((place, dice.randrange(6)) for place in (1, 2, 3))
    request = PlanRequest(drive, dues, shifts(), area_days=area)
    every = (
        {each.key: Placed(day, "A") for each, day in zip(dues, days, strict=True)}
        for days in product(*(each.days for each in dues))
    )
    found = plan_days(request, QUICK)
    assert worth(request, found.placed) == max(worth(request, placed) for placed in every)
