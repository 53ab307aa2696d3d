import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clients.rounds import solver
from clients.rounds.day_round import DayRequest, Isolation, Lunch, LunchPlace, Priority, Span
from clients.rounds.solver import BrokenPlan, order_cost, plan_day
from clients.rounds.timing import Timing
from clients.rounds.vehicle_search import Effort
from tests.clients.rounds.days import MINUTE, at, day, everywhere, random_day, span, stop

LUNCH = Lunch(30 * MINUTE, span("11:30", "13:30"))


def keys(plan):
    return [planned.key for planned in plan.order]


def codes(plan):
    return {left.key: [reason.code.value for reason in left.reasons] for left in plan.unplaced}


def test_the_base_is_left_as_late_as_the_first_stop_allows():
    plan = plan_day(day([stop("A", 1, 75, windows=(span("09:00", "12:00"),))], everywhere(12, 2)))
    assert (plan.leave, plan.order[0].start, plan.back) == (at("08:48"), at("09:00"), at("10:27"))
    assert plan.wait_seconds == 0


def test_a_locked_stop_starts_at_its_time_and_is_waited_for():
    stops = [stop("A", 1, 60), stop("B", 2, 40, locked=at("13:15"))]
    plan = plan_day(day(stops, everywhere(10, 3)))
    assert keys(plan) == ["A", "B"]
    assert plan.order[1].start == at("13:15")
    assert plan.wait_seconds == plan.order[1].start - plan.order[1].arrive


def test_a_lock_replaces_the_windows():
    only = stop("A", 1, 40, locked=at("13:15"), windows=(span("09:00", "10:00"),))
    assert keys(plan_day(day([only], everywhere(10, 2)))) == ["A"]


def test_the_start_alone_must_lie_in_the_window_both_ends_included():
    only = stop("A", 1, 90, windows=(span("08:10", "08:10"),))
    assert plan_day(day([only], everywhere(10, 2))).order[0].start == at("08:10")


def test_cleaner_stops_come_first_even_where_that_is_further():
    stops = [
        stop("ill", 1, 30, isolation=Isolation.INFECTED),
        stop("seen", 2, 30, isolation=Isolation.EXPOSED),
        stop("well", 3, 30),
    ]
    minutes = [[0, 5, 10, 60], [5, 0, 5, 60], [10, 5, 0, 60], [60, 60, 60, 0]]
    assert keys(plan_day(day(stops, minutes))) == ["well", "seen", "ill"]


def test_lunch_at_the_base_does_not_restart_the_isolation_order():
    stops = [
        stop("ill", 1, 30, isolation=Isolation.INFECTED, locked=at("09:00")),
        stop("well", 2, 30, windows=(span("14:00", "15:00"),)),
    ]
    plan = plan_day(day(stops, everywhere(5, 3), LUNCH))
    assert keys(plan) == ["ill"]
    assert codes(plan)["well"] == ["window", "isolation", "locked_elsewhere", "displaces_higher"]


def test_drives_are_taken_as_written_and_never_by_a_third_place():
    minutes = [[0, 10, 400], [10, 0, 10], [10, 10, 0]]
    plan = plan_day(day([stop("far", 2, 30)], minutes, hours=("08:00", "17:00")))
    assert plan.drive_seconds == 410 * MINUTE


@pytest.mark.parametrize(
    ("stops", "where"),
    [
        ([("A", 1, 60, {"windows": (span("14:00", "15:00"),)})], LunchPlace.BEFORE_LEAVING),
        ([("A", 1, 60, {})], LunchPlace.AFTER_RETURN),
        (
            [("A", 1, 120, {"locked": at("09:00")}), ("B", 2, 60, {"locked": at("13:00")})],
            LunchPlace.BEFORE_STOP,
        ),
    ],
)
def test_lunch_lies_where_it_costs_nothing(stops, where):
    made = [stop(key, place, minutes, **rules) for key, place, minutes, rules in stops]
    plan = plan_day(day(made, everywhere(10, 3), LUNCH))
    assert plan.lunch is not None
    assert plan.lunch.where is where
    assert len(plan.order) == len(made)


def test_a_locked_stop_goes_before_lunch_and_that_is_told():
    plan = plan_day(day([stop("A", 1, 500, locked=at("08:10"))], everywhere(10, 2), LUNCH))
    assert keys(plan) == ["A"]
    assert plan.lunch is None
    assert plan.notices == (solver.LUNCH_LEFT_OUT,)


def test_lunch_goes_before_any_other_stop():
    plan = plan_day(day([stop("A", 1, 500, priority=Priority.HIGH)], everywhere(10, 2), LUNCH))
    assert keys(plan) == []
    assert plan.lunch is not None
    assert codes(plan) == {"A": ["day_too_long"]}


def test_no_number_of_lower_stops_outweighs_a_higher_one():
    stops = [stop(f"low{i}", i, 100, priority=Priority.LOW) for i in (1, 2, 3)]
    stops.append(stop("high", 4, 500, priority=Priority.HIGH))
    plan = plan_day(day(stops, everywhere(10, 5)))
    assert keys(plan) == ["high"]
    assert codes(plan) == {f"low{i}": ["day_too_long", "displaces_higher"] for i in (1, 2, 3)}


def test_a_stop_that_fits_only_in_place_of_an_equal_one_says_so():
    plan = plan_day(day([stop("A", 1, 300), stop("B", 2, 300)], everywhere(10, 3)))
    assert keys(plan) == ["A"]
    assert codes(plan) == {"B": ["day_too_long", "displaces_same"]}


def test_two_locks_that_clash_keep_the_first_and_name_the_other():
    stops = [stop("A", 1, 60, locked=at("10:00")), stop("B", 2, 60, locked=at("10:30"))]
    plan = plan_day(day(stops, everywhere(10, 3)))
    assert keys(plan) == ["A"]
    assert codes(plan) == {"B": ["window", "locked_elsewhere", "displaces_same"]}


def test_a_window_that_ends_before_it_starts_holds_no_moment():
    plan = plan_day(day([stop("A", 1, 60, windows=(span("12:00", "09:00"),))], everywhere(10, 2)))
    assert codes(plan) == {"A": ["window"]}


def test_two_rules_that_only_stand_in_the_way_together_are_both_named():
    plan = plan_day(day([stop("A", 1, 60, windows=(span("12:00", "09:00"),))], everywhere(400, 2)))
    assert codes(plan) == {"A": ["window", "day_too_long"]}


def test_a_stop_two_thousand_miles_away_needs_a_longer_day():
    minutes = [[0, 3200, 5], [3200, 0, 3200], [5, 3200, 0]]
    plan = plan_day(day([stop("far", 1, 60), stop("near", 2, 60)], minutes))
    assert keys(plan) == ["near"]
    assert codes(plan) == {"far": ["day_too_long"]}


def test_a_day_without_hours_has_no_room():
    plan = plan_day(day([stop("A", 1, 60)], everywhere(10, 2), hours=("08:00", "08:00")))
    assert codes(plan) == {"A": ["day_too_long"]}


def test_no_stops_at_all_leave_lunch():
    plan = plan_day(day([], [[0]], LUNCH))
    assert (plan.order, plan.leave, plan.back, plan.wait_seconds) == ((), None, None, 0)
    assert plan.lunch is not None
    assert plan.lunch.start == at("11:30")


def test_two_hundred_stops_are_answered_and_every_one_told_of():
    stops = [stop(f"S{i}", i + 1, 60) for i in range(200)]
    plan = plan_day(day(stops, everywhere(10, 201), LUNCH), effort=Effort(50))
    assert len(plan.order) == 7
    assert len(plan.unplaced) == 193
    assert all(left.reasons for left in plan.unplaced)


def test_a_mistake_of_the_solver_never_leaves_as_a_plan(monkeypatch):
    request = day([stop("A", 1, 60)], everywhere(10, 2))
    right = Timing.of(request).best_of_order((0,))
    monkeypatch.setattr(solver, "best_course", lambda *_, **__: right._replace(ready=right.ready - 60))
    with pytest.raises(BrokenPlan, match="The base is reached at"):
        plan_day(request)


def test_lunch_at_the_base_may_lie_outside_the_day_and_back_is_the_arrival():
    early = plan_day(day([stop("A", 1, 500)], everywhere(10, 2), Lunch(30 * MINUTE, span("07:00", "07:30"))))
    late = plan_day(day([stop("A", 1, 500)], everywhere(10, 2), Lunch(30 * MINUTE, span("17:00", "18:00"))))
    assert (early.lunch.where, early.lunch.start, early.order[0].start) == (
        LunchPlace.BEFORE_LEAVING, at("07:00"), at("08:10"),
    )  # fmt: skip
    assert (late.lunch.where, late.lunch.start, late.back) == (LunchPlace.AFTER_RETURN, at("17:00"), at("16:40"))


def test_lunch_starts_inside_its_span_both_ends_included():
    one = stop("A", 1, 240, locked=at("09:00"))
    two = stop("B", 2, 60, locked=at("14:00"))
    plan = plan_day(day([one, two], everywhere(10, 3), Lunch(30 * MINUTE, span("12:00", "13:00"))))
    assert (plan.lunch.start, plan.lunch.where, plan.lunch.key) == (at("13:00"), LunchPlace.AFTER_STOP, "A")


def test_waiting_is_what_is_left_of_the_day_after_drives_stops_and_lunch_on_the_road():
    stops = [stop("A", 1, 60, locked=at("09:00")), stop("B", 2, 60, locked=at("13:00"))]
    plan = plan_day(day(stops, everywhere(10, 3), LUNCH))
    assert plan.lunch.where is LunchPlace.BEFORE_STOP
    assert (plan.leave, plan.back) == (at("08:50"), at("14:10"))
    assert plan.wait_seconds == (320 - 30 - 120 - 30) * MINUTE


def test_the_least_waiting_settles_two_ways_back_at_the_same_time():
    """First A, to wait for the locked stop beside it, or first B: as far, as early back, and B starts later."""
    stops = [
        stop("A", 1, 30, windows=(span("08:00", "12:00"),)),
        stop("B", 1, 30, windows=(span("09:00", "12:00"),)),
        stop("C", 1, 30, locked=at("12:00")),
    ]
    plan = plan_day(day(stops, everywhere(10, 2)))
    assert (keys(plan), plan.leave, plan.wait_seconds) == (["B", "A", "C"], at("08:50"), 120 * MINUTE)


def test_the_earliest_lunch_settles_what_is_otherwise_alike():
    stops = [stop("A", 1, 60, locked=at("11:00")), stop("B", 2, 60, locked=at("15:00"))]
    plan = plan_day(day(stops, everywhere(10, 3), Lunch(30 * MINUTE, span("11:30", "14:00"))))
    assert plan.lunch.start == at("12:00")


def test_a_window_that_ended_before_the_day_begins_is_told():
    plan = plan_day(day([stop("A", 1, 60, windows=(span("05:00", "06:00"),))], everywhere(10, 2)))
    assert codes(plan) == {"A": ["window"]}


def test_a_barn_with_clean_and_isolated_horses_is_two_stops_and_seen_last():
    stops = [stop("ill", 1, 30, isolation=Isolation.INFECTED), stop("well", 1, 30), stop("next", 2, 30)]
    plan = plan_day(day(stops, [[0, 5, 30], [5, 0, 30], [30, 30, 0]]))
    assert keys(plan)[-1] == "ill"


@pytest.mark.parametrize("seed", range(6))
def test_longer_days_keep_every_rule_too(seed):
    request = random_day(500 + seed, stops=12)
    plan = plan_day(request, effort=Effort(200))
    assert {p.key for p in plan.order} | {u.key for u in plan.unplaced} == {s.key for s in request.stops}
    assert all(left.reasons for left in plan.unplaced)


@settings(max_examples=40)
@given(seed=st.integers(0, 10**6), stops=st.integers(0, 5), extra=st.integers(0, 4 * 3600))
def test_a_longer_day_is_never_worse(seed, stops, extra):
    request = random_day(seed, stops)
    longer = DayRequest(Span(request.day.start, request.day.end + extra), request.drive, request.stops, request.lunch)
    placed = [len(plan_day(each).order) for each in (request, longer)]
    tiers = [_tiers(each) for each in (request, longer)]
    assert tiers[1] <= tiers[0], placed


def _tiers(request):
    timing = Timing.of(request)
    return timing.rank(solver.best_course(request))[:5]


@settings(max_examples=40)
@given(seed=st.integers(0, 10**6), shift=st.integers(-3600, 3600))
def test_the_same_day_an_hour_later_is_the_same_plan(seed, shift):
    request = random_day(seed, 4)
    plan, later = plan_day(request), plan_day(_shifted(request, shift))
    assert keys(later) == keys(plan)
    assert [p.start - shift for p in later.order] == [p.start for p in plan.order]
    assert codes(later) == codes(plan)


def _shifted(request: DayRequest, shift: int) -> DayRequest:
    def moved(one: Span) -> Span:
        return Span(one.start + shift, one.end + shift)

    stops = [
        type(each)(
            each.key, each.place, each.seconds, tuple(map(moved, each.windows)),
            None if each.locked is None else each.locked + shift, each.isolation, each.priority,
        )
        for each in request.stops
    ]  # fmt: skip
    lunch = request.lunch and Lunch(request.lunch.seconds, moved(request.lunch.span))
    return DayRequest(moved(request.day), request.drive, tuple(stops), lunch)


# -- an order of one's own


def test_the_best_order_costs_nothing_more():
    request = random_day(3, 5)
    best = plan_day(request)
    own = order_cost(request, keys(best))
    assert own.faults == ()
    assert own.drive_seconds_saved == 0
    assert own.back_seconds_earlier == 0


def test_a_worse_order_is_told_what_a_better_one_saves():
    minutes = [[0, 5, 10, 15], [5, 0, 5, 10], [10, 5, 0, 5], [15, 10, 5, 0]]
    stops = [stop(key, place, 30) for place, key in enumerate("ABC", 1)]
    own = order_cost(day(stops, minutes), ["B", "A", "C"])
    assert (own.plan.drive_seconds, own.best.drive_seconds) == (40 * MINUTE, 30 * MINUTE)
    assert own.drive_seconds_saved == 10 * MINUTE
    assert own.back_seconds_earlier == 10 * MINUTE


def test_an_order_against_the_rules_is_timed_and_every_rule_named():
    stops = [
        stop("ill", 1, 60, isolation=Isolation.INFECTED),
        stop("early", 2, 60, windows=(span("08:00", "08:30"),)),
        stop("locked", 3, 60, locked=at("09:00")),
    ]
    own = order_cost(day(stops, everywhere(10, 4), hours=("08:00", "10:00")), ["ill", "early", "locked"])
    assert own.faults == (
        "early starts at 09:20, after its window ends at 08:30.",
        "locked starts at 10:30, but is locked at 09:00.",
        "early is cleaner than ill, which comes before it.",
        "The base is reached at 11:40, but the day ends at 10:00.",
    )


def test_an_order_of_some_stops_leaves_the_others_out():
    own = order_cost(day([stop("A", 1, 30), stop("B", 2, 30)], everywhere(10, 3)), ["B"])
    assert keys(own.plan) == keys(own.best) == ["B"]
    assert own.faults == ()


def test_an_order_without_room_for_a_stop_has_no_best_to_compare_with():
    own = order_cost(day([stop("A", 1, 300), stop("B", 2, 300)], everywhere(10, 3)), ["A", "B"])
    assert own.faults == ("The base is reached at 18:30, but the day ends at 17:00.",)
    assert own.drive_seconds_saved is None
    assert own.back_seconds_earlier is None


def test_an_order_keeps_lunch_where_it_breaks_no_rule():
    stops = [stop("A", 1, 120), stop("B", 2, 120), stop("C", 3, 120)]
    own = order_cost(day(stops, everywhere(20, 4), LUNCH), ["A", "B", "C"])
    assert own.faults == ()
    assert own.plan.lunch is not None
    assert own.plan.lunch.where is LunchPlace.AFTER_STOP


@pytest.mark.parametrize("order", [["A", "A"], ["nobody"]])
def test_an_order_of_other_stops_is_a_mistake(order):
    with pytest.raises(ValueError, match="names each of its stops once"):
        order_cost(day([stop("A", 1, 30)], everywhere(10, 2)), order)
