"""How near a schedule comes to the guideline: matching, credit, uncounted spots, gaps."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.plans.cadence import Kind, Phase, PlannedSession, Schedule
from clients.plans.coverage import Guideline, cover, longest_gap

START = date(2026, 3, 2)
MINUTES = {Kind.FULL: 60, Kind.SPOT: 20}
THIRD_DAY = Guideline((Phase(28, full_every=3, spots_per_day=1),), tolerance_days=1)


def day(offset):
    return START + timedelta(days=offset)


def full(*offsets):
    return [PlannedSession(day(offset), Kind.FULL) for offset in offsets]


def spot(*offsets):
    return [PlannedSession(day(offset), Kind.SPOT) for offset in offsets]


def covered(sessions, guideline=THIRD_DAY, days=28, minutes=MINUTES):
    return cover(guideline, guideline.sessions(START, days), sessions, minutes)


@pytest.mark.parametrize(
    ("phases", "credited", "percent", "full_bodies", "spots"),
    [
        ([Phase(28, full_every=3)], 600, 62, "10 of 10", "0 of 18"),
        ([Phase(28, full_every=3, spots_per_day=1)], 960, 100, "10 of 10", "18 of 18"),
        ([Phase(28, full_every=7)], 240, 25, "4 of 10", "0 of 18"),
        ([Phase(28, full_every=28)], 60, 6, "1 of 10", "0 of 18"),
        ([Phase(1, full_every=1), Phase(9, spots_per_day=1)], 100, 10, "1 of 10", "2 of 18"),
    ],
)
def test_the_schedules_of_the_worked_table_cover_what_a_hand_count_says(phases, credited, percent, full_bodies, spots):
    result = covered(Schedule(tuple(phases)).expand(START, 28).sessions)
    assert (result.credited, result.possible) == (credited, 960)
    assert result.covered == Fraction(credited, 960)
    assert result.percent == percent
    assert (result.full_bodies, result.spots) == (full_bodies, spots)


def test_a_full_body_beyond_the_tolerance_is_left_over_and_may_stand_for_a_spot():
    exact = Guideline((Phase(28, full_every=3, spots_per_day=1),))
    result = covered(full(1), exact)
    assert (result.credited, result.full_met, result.spots_met) == (20, 0, 1)


def test_each_guideline_full_body_is_met_once():
    result = covered([*full(0), *full(1), *full(2)])
    assert result.full_met == 2
    assert result.spots_met == 1
    assert result.credited == 60 + 60 + 20


@pytest.mark.parametrize(
    ("spots", "within", "uncounted"),
    [
        ([1, 2, 3], 3, []),
        ([1, 4], 3, [4]),
        ([1], 0, [1]),
        ([0], 0, []),
    ],
)
def test_a_spot_too_long_after_a_full_body_is_not_counted_and_listed(spots, within, uncounted):
    guideline = Guideline((Phase(28, full_every=9, spots_per_day=1),), spot_needs_full_within=within)
    result = covered([*full(0), *spot(*spots)], guideline)
    assert result.uncounted == tuple(day(offset) for offset in uncounted)


def test_a_spot_before_any_full_body_is_not_counted():
    assert covered(spot(1)).uncounted == (day(1),)


def test_the_smaller_of_the_two_minutes_is_credited():
    short_full = {Kind.FULL: 15, Kind.SPOT: 20}
    exact = Guideline((Phase(2, full_every=2, spots_per_day=1),))
    assert covered(full(0, 1), exact, days=2, minutes=short_full).credited == 15 + 15


def test_a_guideline_is_cut_by_the_term_and_not_repeated():
    short = Guideline((Phase(4, full_every=3),))
    assert covered(full(0, 3, 6, 9), short).possible == 120
    assert covered(full(0), short, days=2).covered == 1


def test_a_guideline_that_plans_nothing_has_no_part_covered():
    empty = Guideline((Phase(4),))
    assert covered(full(0), empty).covered is None
    assert covered(full(0), empty).percent is None


@pytest.mark.parametrize(
    ("offsets", "gap"),
    [([], 28), ([0], 28), ([0, 7, 14, 21], 7), ([0, 3, 27], 24), ([9, 12, 20], 9), ([27], 27)],
)
def test_the_longest_gap_counts_from_the_start_and_to_the_end(offsets, gap):
    assert longest_gap(full(*offsets), START, 28) == gap


def test_the_owners_sessions_count_like_ours():
    assert covered(full(0, 3)).credited == covered([*full(3), *full(0)]).credited


sessions = st.lists(
    st.builds(
        PlannedSession,
        on=st.integers(0, 27).map(day),
        kind=st.sampled_from([Kind.FULL, Kind.SPOT]),
        part=st.integers(1, 2),
    ),
    max_size=40,
)
guidelines = st.builds(
    Guideline,
    phases=st.lists(
        st.builds(Phase, days=st.integers(1, 20), full_every=st.integers(1, 9), spots_per_day=st.integers(0, 2)),
        min_size=1,
        max_size=3,
    ).map(tuple),
    tolerance_days=st.integers(0, 4),
    spot_needs_full_within=st.integers(0, 6),
)


@given(sessions, guidelines)
def test_coverage_lies_between_nothing_and_all(some, guideline):
    result = covered(some, guideline)
    assert 0 <= result.covered <= 1
    assert 0 <= result.percent <= 100
    assert result.full_met <= result.full_planned
    assert result.spots_met <= result.spots_planned


@given(sessions, guidelines, sessions.filter(bool))
def test_coverage_never_falls_when_a_session_is_added(some, guideline, more):
    before, after = covered(some, guideline), covered([*some, more[0]], guideline)
    assert after.credited >= before.credited
