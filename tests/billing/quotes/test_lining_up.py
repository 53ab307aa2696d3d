"""Days lined up: the fewest stops within the tolerance, the cheapest, the least moved."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from billing.money.call_out import CallOut, Split
from billing.money.packages import Package
from billing.quotes import lining_up
from billing.quotes.comparison import compare
from billing.quotes.lining_up import line_up
from clients.plans.cadence import OnDayOff, Phase
from tests.billing.quotes.requests import D, hire, option, request, visits

WEEKLY = Phase(21, full_every=7)


def lined(*plans, tolerance=3, packages=None, **changes):
    chosen = option("one", *plans, packages=packages or {})
    fields = {"owners": ("One",) * len(plans), "guideline": None, **changes}
    return line_up(request(chosen, **fields), chosen, tolerance)


def test_two_weekly_horses_meet_on_the_same_days():
    found = lined(visits(WEEKLY), visits(WEEKLY, shift=2))
    assert (found.stops_before, found.stops_after, found.saved) == (6, 3, D("90.00"))
    # One day each or two of the one move as much: the earlier start of the horse stated first stands.
    assert found.shifts == {"A": 0, "B": 0}
    assert found.sentence == "Start B 2 days earlier: 3 stops instead of 6, $90.00 less."


@pytest.mark.parametrize(("tolerance", "stops"), [(3, 3), (2, 3), (1, None)])
def test_nobody_is_moved_further_than_the_tolerance(tolerance, stops):
    found = lined(visits(WEEKLY), visits(WEEKLY, shift=4), tolerance=tolerance)
    assert (found.stops_after if found else None) == stops


def test_each_may_move_towards_the_other():
    found = lined(visits(WEEKLY), visits(WEEKLY, shift=4), tolerance=2)
    assert found.shifts == {"A": 2, "B": 2}
    assert found.sentence == "Start A 2 days later and B 2 days earlier: 3 stops instead of 6, $90.00 less."


def test_no_session_is_lost_to_the_terms_end():
    # A full body on day 27 would fall out of the term: the other horse moves instead.
    found = lined(visits(Phase(28, full_every=9)), visits(Phase(19, full_every=9), shift=1))
    assert found.shifts == {"A": 0, "B": 0}
    assert lined(visits(Phase(28, full_every=9)), visits(Phase(28, full_every=9))) is None


def test_days_off_are_kept():
    monday_off = {"off": ["MO"], "on_day_off": OnDayOff.NEXT}
    found = lined(visits(WEEKLY, **monday_off), visits(WEEKLY, shift=2))
    assert (found.shifts, found.stops_after) == ({"A": 0, "B": 1}, 3)


def test_without_a_split_fewer_stops_save_nothing_but_the_drive():
    found = lined(visits(WEEKLY), visits(WEEKLY, shift=1), call_out=CallOut(D("30.00")))
    assert (found.stops_after, found.saved) == (3, 0)
    assert found.sentence.endswith("3 stops instead of 6, at the same price.")


def test_visits_line_up_with_the_visits_of_a_hire_which_stay():
    found = lined(hire(WEEKLY, follow_ups=0), visits(Phase(1, full_every=1), shift=2))
    assert (found.shifts, found.stops_after) == ({"A": 0, "B": 0}, 1)
    assert lined(hire(WEEKLY), tolerance=3) is None


def test_what_would_cost_more_is_not_proposed():
    # They can only meet on days 2 and 9, and the package of eight days has ended by day 9: 95.00 more, two drives less.
    package = Package("two", D("10.00"), {"full": 2}, days=8)
    plans = visits(Phase(14, full_every=7)), visits(Phase(14, full_every=7), shift=4)
    owners = ("One", "Two")
    assert lined(*plans, owners=owners, tolerance=2).stops_after == 2
    assert lined(*plans, owners=owners, tolerance=2, packages={"One": (package,)}) is None


def test_one_horse_has_nothing_to_meet():
    assert lined(visits(WEEKLY)) is None


def test_many_horses_are_improved_one_after_the_other(monkeypatch):
    plans = [visits(WEEKLY, shift=shift) for shift in (0, 1, 2, 1, 3)]
    exact = lined(*plans)
    monkeypatch.setattr(lining_up, "MOST_TRIED", 0)
    improved = lined(*plans)
    assert exact.stops_after == 3
    assert exact.stops_after <= improved.stops_after < improved.stops_before


short = st.builds(
    Phase, days=st.integers(1, 8), full_every=st.one_of(st.none(), st.integers(1, 4)), spots_per_day=st.integers(0, 2)
)
small = st.builds(lambda phase, shift: visits(phase, shift=shift), short, st.integers(0, 3))


@settings(max_examples=40)
@given(st.lists(small, min_size=2, max_size=3), st.sampled_from(Split), st.integers(0, 2))
def test_no_other_start_within_the_tolerance_has_fewer_stops_or_costs_less(plans, split, tolerance):
    chosen = option("one", *plans)
    asked = request(chosen, owners=("One",) * len(plans), days=12, guideline=None, call_out=CallOut(D("10.00"), split))
    now = compare(asked).options[0]
    tried = []
    for moves in product(range(-tolerance, tolerance + 1), repeat=len(plans)):
        shifts = [plan.shift + move for plan, move in zip(plans, moves, strict=True)]
        if min(shifts) < 0:
            continue
        moved = option("one", *(replace(plan, shift=shift) for plan, shift in zip(plans, shifts, strict=True)))
        result = compare(replace(asked, options=(moved,))).options[0]
        kept = [len(days.days.ours) for days in result.horses] == [len(days.days.ours) for days in now.horses]
        if kept and result.visits < now.visits:
            tried.append((result.visits, result.total, sum(map(abs, moves)), moves))
    found = line_up(asked, chosen, tolerance)
    if not tried:
        assert found is None
    else:
        visits_, total, _moved, moves = min(tried)
        assert (found.stops_after, now.total - found.saved) == (visits_, total)
        assert list(found.shifts.values()) == [plan.shift + move for plan, move in zip(plans, moves, strict=True)]


def test_two_drives_of_a_day_are_two_stops():
    twice = Phase(1, spots_per_day=2)
    found = lined(visits(twice), visits(twice, shift=1))
    assert (found.stops_before, found.stops_after) == (4, 2)


def test_a_horse_that_hires_stays_even_with_visits_of_its_own():
    both = replace(hire(WEEKLY, follow_ups=0), visits=visits(WEEKLY).visits, shift=1)
    found = lined(both, visits(WEEKLY, shift=2))
    assert found.shifts == {"A": 1, "B": 1}
