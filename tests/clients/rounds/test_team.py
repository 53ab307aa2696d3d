"""Days of several people: shared out as well as trying every way shows, each day inspected, every stop told of."""

from itertools import product
from random import Random

import pytest

from clients.rounds.day_round import DayRequest, Isolation, Lunch, ReasonCode, Span
from clients.rounds.inspection import faults
from clients.rounds.team import Person, TeamPlan, TeamRequest, plan_team
from tests.clients.rounds.days import MINUTE, at, everywhere, random_day, span, stop
from tests.clients.rounds.reference import best_figures

LUNCH = Lunch(30 * MINUTE, span("11:30", "13:30"))
DAY = span("08:00", "17:00")
TWO = (Person("ann", 0, DAY), Person("ben", 1, DAY))


def drive(minutes):
    return tuple(tuple(leg * MINUTE for leg in row) for row in minutes)


def team(stops, minutes, people=TWO, **more) -> TeamRequest:
    return TeamRequest(drive(minutes), tuple(people), tuple(stops), **more)


def made(plan: TeamPlan) -> dict[str, list[str]]:
    return {person: [planned.key for planned in day.order] for person, day in plan.days.items()}


def codes(plan: TeamPlan):
    return {left.key: [reason.code.value for reason in left.reasons] for left in plan.unplaced}


LINE = [[10 * abs(a - b) for b in range(6)] for a in range(6)]


def test_each_makes_the_stops_near_their_own_base():
    request = team([stop("A", 2, 60), stop("B", 3, 60)], LINE, (Person("ann", 0, DAY), Person("ben", 5, DAY)))
    near = team([stop("A", 1, 60), stop("B", 4, 60)], LINE, (Person("ann", 0, DAY), Person("ben", 5, DAY)))
    assert made(plan_team(near)) == {"ann": ["A"], "ben": ["B"]}
    assert sum(day.drive_seconds for day in plan_team(near).days.values()) == 40 * MINUTE
    assert sum(map(len, made(plan_team(request)).values())) == 2


def test_one_makes_all_where_that_is_less_driving():
    request = team([stop("A", 2, 60), stop("B", 2, 60)], LINE, (Person("ann", 0, DAY), Person("ben", 5, DAY)))
    assert made(plan_team(request)) == {"ann": ["A", "B"], "ben": []}


def test_own_hours_and_own_lunch_are_kept():
    people = (Person("ann", 0, span("08:00", "12:00")), Person("ben", 0, span("12:00", "17:00"), LUNCH))
    stops = [stop(key, place, 120) for place, key in enumerate("ABC", 1)]
    plan = plan_team(team(stops, everywhere(10, 4), people))
    assert [len(keys) for keys in made(plan).values()] == [1, 2]
    assert plan.days["ann"].back <= at("12:00")
    assert plan.days["ben"].leave >= at("12:00")
    assert plan.days["ben"].lunch is not None


def test_who_may_not_make_a_stop_never_does():
    plan = plan_team(team([stop("A", 2, 60)], everywhere(10, 6), people_of={"A": frozenset({"ben"})}))
    assert made(plan) == {"ann": [], "ben": ["A"]}


def test_a_stop_that_nobody_there_may_make_says_so():
    plan = plan_team(team([stop("A", 1, 60)], LINE, people_of={"A": frozenset({"cat"})}))
    assert codes(plan) == {"A": ["nobody"]}
    assert plan.unplaced[0].reasons[0].sentence == "Nobody who works that day may do it."


def test_a_day_with_everybody_away_makes_nothing():
    plan = plan_team(team([stop("A", 1, 60)], LINE, ()))
    assert (plan.days, codes(plan)) == ({}, {"A": ["nobody"]})


def test_no_stops_at_all_leave_everybody_at_home():
    assert made(plan_team(team([], LINE))) == {"ann": [], "ben": []}


def test_two_stops_locked_at_the_same_time_are_shared():
    stops = [stop("A", 2, 60, locked=at("10:00")), stop("B", 3, 60, locked=at("10:00"))]
    plan = plan_team(team(stops, LINE))
    assert sorted(len(keys) for keys in made(plan).values()) == [1, 1]


def test_the_clean_and_the_infected_are_shared_where_one_order_does_not_hold_them():
    stops = [
        stop("ill", 2, 60, isolation=Isolation.INFECTED, locked=at("09:00")),
        stop("well", 2, 60, locked=at("11:00")),
    ]
    plan = plan_team(team(stops, LINE))
    assert plan.unplaced == ()
    assert sorted(map(len, made(plan).values())) == [1, 1]


def test_what_is_left_over_has_the_reasons_of_everybody():
    stops = [stop(key, 2, 400) for key in "ABC"]
    assert codes(plan_team(team(stops, LINE))) == {"C": ["day_too_long", "displaces_same"]}


@pytest.mark.parametrize(
    ("people", "word"),
    [((Person("a", 0, DAY), Person("a", 1, DAY)), "same key"), ((Person("a", 9, DAY),), "outside the matrix")],
)
def test_a_mistake_of_the_caller_is_an_error(people, word):
    with pytest.raises(ValueError, match=word):
        team([], LINE, people)


def random_team(seed: int, stops: int, people: int = 2) -> TeamRequest:
    chance, day = Random(seed), random_day(seed, stops + people - 1)
    drivers = tuple(
        Person(
            key=name,
            base=0 if number == 0 or chance.random() < 0.5 else stops + number,
            day=Span(day.day.start + chance.choice([0, 0, 3600]), day.day.end - chance.choice([0, 0, 7200])),
            lunch=day.lunch if number == 0 or chance.random() < 0.7 else None,
        )
        for number, name in enumerate("abcde"[:people])
    )
    asked = tuple(each for each in day.stops if int(each.key[1:]) < stops)
    people_of = {each.key: frozenset({chance.choice("ab")}) for each in asked if chance.random() < 0.2}
    return TeamRequest(day.drive, drivers, asked, people_of)


def best_of_every_sharing(request: TeamRequest):
    known: dict[tuple[int, tuple[int, ...]], tuple[int, ...]] = {}
    count = len(request.stops)

    def of_one(number: int, chosen: tuple[int, ...]):
        if (number, chosen) not in known:
            person = request.people[number]
            known[number, chosen] = figures(own_day(request, person, [request.stops[i] for i in chosen]))
        return known[number, chosen]

    def figures(day: DayRequest):
        best = best_figures(day)
        return (*map(int, best[:6]), best[6] - day.day.start if best[8] else 0, best[7])

    best = None
    for sharing in product(range(len(request.people)), repeat=count):
        parts = [tuple(i for i in range(count) if sharing[i] == number) for number in range(len(request.people))]
        if all(
            request.may(request.people[number], request.stops[i]) for number, part in enumerate(parts) for i in part
        ):
            total = tuple(map(sum, zip(*(of_one(number, part) for number, part in enumerate(parts)), strict=True)))
            best = total if best is None else min(best, total)
    return best


def own_day(request: TeamRequest, person: Person, stops) -> DayRequest:
    """The day with the person's base put in as place 0 before all places."""
    places = [person.base, *range(len(request.drive))]
    moved = [type(s)(s.key, s.place + 1, s.seconds, s.windows, s.locked, s.isolation, s.priority) for s in stops]
    matrix = tuple(tuple(request.drive[here][there] for there in places) for here in places)
    return DayRequest(person.day, matrix, tuple(moved), person.lunch)


def figures_of_team(request: TeamRequest, plan: TeamPlan):
    total = [0] * 8
    stops = {each.key: each for each in request.stops}
    for person in request.people:
        day = plan.days[person.key]
        for planned in day.order:
            total[{3: 0, 2: 2, 1: 3, 0: 4}[stops[planned.key].tier]] -= 1
        total[1] += person.lunch is not None and day.lunch is None
        total[5] += day.drive_seconds
        total[6] += day.back - person.day.start if day.order else 0
        total[7] += day.wait_seconds
    return tuple(total)


def audit(request: TeamRequest, plan: TeamPlan) -> None:
    stops = {each.key: each for each in request.stops}
    told = [key for keys in made(plan).values() for key in keys] + [left.key for left in plan.unplaced]
    assert sorted(told) == sorted(stops)
    for person in request.people:
        day = plan.days[person.key]
        mine = [stops[planned.key] for planned in day.order]
        assert all(request.may(person, each) for each in mine)
        assert faults(own_day(request, person, mine), day) == []
    assert all(left.reasons for left in plan.unplaced)


@pytest.mark.parametrize("block", range(6))
def test_five_stops_of_two_people_are_shared_as_well_as_every_way_shows(block):
    for seed in range(block * 10, block * 10 + 10):
        request = random_team(seed, stops=5)
        plan = plan_team(request)
        audit(request, plan)
        assert figures_of_team(request, plan) == best_of_every_sharing(request), f"seed {seed}"


@pytest.mark.parametrize("seed", range(4))
def test_larger_teams_keep_every_rule(seed):
    request = random_team(seed, stops=18, people=3)
    plan = plan_team(request)
    audit(request, plan)
    assert plan == plan_team(request)


def test_every_reason_is_told_of_somewhere():
    plans = [plan_team(random_team(seed, stops=5)) for seed in range(40)]
    assert {reason.code for plan in plans for left in plan.unplaced for reason in left.reasons} >= {
        ReasonCode.WINDOW,
        ReasonCode.DAY_TOO_LONG,
    }
