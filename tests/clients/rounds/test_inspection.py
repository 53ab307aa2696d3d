from dataclasses import replace

import pytest

from clients.rounds.day_round import Isolation, Lunch, LunchPlace, Unplaced
from clients.rounds.inspection import faults
from clients.rounds.solver import plan_day
from tests.clients.rounds.days import MINUTE, at, day, everywhere, span, stop

STOPS = [
    stop("A", 1, 90, windows=(span("09:00", "12:00"),)),
    stop("B", 2, 60, locked=at("13:15")),
    stop("C", 3, 30, isolation=Isolation.INFECTED),
]
REQUEST = day(STOPS, everywhere(10, 4), Lunch(30 * MINUTE, span("11:30", "13:30")))
PLAN = plan_day(REQUEST)
A, B, C = PLAN.order


def with_order(*order):
    return replace(PLAN, order=order)


def test_a_right_plan_has_no_fault():
    assert [planned.key for planned in PLAN.order] == ["A", "B", "C"]
    assert faults(REQUEST, PLAN) == []


@pytest.mark.parametrize(
    ("plan", "sentence"),
    [
        (with_order(A, B), "C is told of 0 times."),
        (with_order(A, B, C, C), "C is told of 2 times."),
        (replace(PLAN, unplaced=(Unplaced("D", ()),)), "D was not asked for."),
        (replace(PLAN, leave=None), "There are stops, but no leaving or coming back."),
        (with_order(replace(A, end=A.end + 60), B, C), "A does not last as long as it must."),
        (with_order(replace(A, arrive=A.start + 60), B, C), "A starts before its arrival."),
        (
            with_order(replace(A, start=at("08:30"), end=at("10:00")), B, C),
            "A starts at 08:30, before its window opens at 09:00.",
        ),
        (
            with_order(replace(A, start=at("12:30"), end=at("14:00")), B, C),
            "A starts at 12:30, after its window ends at 12:00.",
        ),
        (
            with_order(A, replace(B, start=at("13:20"), end=at("14:20")), C),
            "B starts at 13:20, but is locked at 13:15.",
        ),
        (with_order(A, C, B), "B is cleaner than C, which comes before it."),
        (replace(PLAN, leave=at("07:00")), "The day begins at 08:00, but is left for at 07:00."),
        (with_order(A, replace(B, arrive=B.arrive - 60), C), "B is reached at"),
        (replace(PLAN, back=at("18:00")), "The base is reached at 18:00, but the day ends at 17:00."),
        (replace(PLAN, drive_seconds=0), "The drives add up to 2400 seconds, not 0."),
        (replace(PLAN, wait_seconds=0), "The waiting is"),
        (replace(PLAN, lunch=None), "Lunch is left out, and nobody is told."),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, start=at("11:00"), end=at("11:30"))),
            "Lunch starts at 11:00, outside its span.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, end=PLAN.lunch.end + 60)),
            "Lunch does not last as long as it must.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, where=LunchPlace.BEFORE_LEAVING, key=None)),
            "The base is left before lunch there has ended.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, where=LunchPlace.AFTER_RETURN, key=None)),
            "Lunch at the base starts before the return.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, where=LunchPlace.BEFORE_STOP, key="C")),
            "Lunch does not lie between arriving at C and starting there.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, where=LunchPlace.AFTER_STOP, key="B")),
            "Lunch starts before B has ended.",
        ),
        (
            replace(PLAN, lunch=replace(PLAN.lunch, where=LunchPlace.AFTER_STOP, key="D")),
            "Lunch is at a barn that is not on the round.",
        ),
    ],
)
def test_each_broken_rule_is_told(plan, sentence):
    assert any(fault.startswith(sentence) for fault in faults(REQUEST, plan))


def test_lunch_nobody_asked_for_is_told():
    assert faults(replace(REQUEST, lunch=None), PLAN) == ["There is a lunch that nobody asked for."]


def test_lunch_may_be_left_out_for_a_locked_stop_only():
    request = day([stop("A", 1, 60)], everywhere(10, 2), REQUEST.lunch)
    plan = replace(plan_day(request), lunch=None, notices=("Told.",))
    assert faults(request, plan) == ["Lunch is left out, but no locked visit needs its time."]


def test_a_stop_without_any_moment_to_start_is_told():
    request = day([stop("A", 1, 60, windows=(span("12:00", "09:00"),))], everywhere(10, 2))
    placed = plan_day(replace(request, stops=(stop("A", 1, 60),)))
    assert faults(request, placed) == ["A starts at 08:10, but it has no window to start in."]
