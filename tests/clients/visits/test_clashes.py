from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.visits.clashes import Taken, first_clash, first_free, minute_of, time_of

DAY = [(8 * 60, 17 * 60)]


def taken(starts, ends, **fields):
    facts = {"animal": 1, "barn": 1, "practitioner": 1, "machine": 1} | fields
    return Taken(starts=starts, ends=ends, **facts)


@pytest.mark.parametrize(
    ("other", "what"),
    [
        (taken(540, 600, animal=2), "practitioner"),
        (taken(540, 600, animal=2, practitioner=2), "machine"),
        (taken(540, 600, practitioner=2, machine=2), "animal"),
        (taken(540, 600, animal=2, practitioner=2, machine=None), None),
        (taken(600, 660, animal=2), None),
        (taken(480, 540, animal=2), None),
        (taken(599, 601, animal=2), "practitioner"),
    ],
)
def test_what_is_in_two_places_at_once_is_named(other, what):
    clash = first_clash(taken(540, 600), [other])
    assert (clash.what if clash else None) == what


def test_without_a_machine_no_machine_clashes():
    assert first_clash(taken(540, 600, machine=None), [taken(540, 600, animal=2, practitioner=2)]) is None


def test_the_first_start_of_an_empty_day_is_its_opening():
    assert first_free(taken=[], barn=1, minutes=60, spans=DAY, gap=30) == 480


def test_visits_of_one_barn_follow_each_other():
    there = [taken(540, 600)]
    assert first_free(taken=there, barn=1, minutes=60, spans=DAY, gap=30) == 600


def test_work_at_another_barn_keeps_its_distance():
    there = [taken(480, 540, barn=2)]
    assert first_free(taken=there, barn=1, minutes=60, spans=DAY, gap=30) == 570


def test_nothing_fits_into_a_full_day():
    assert first_free(taken=[taken(0, 1440, barn=2)], barn=1, minutes=60, spans=DAY, gap=30) is None
    assert first_free(taken=[], barn=1, minutes=60, spans=[(600, 500)], gap=30) is None


@given(
    st.lists(
        st.tuples(st.integers(0, 1300), st.integers(5, 120), st.integers(1, 3)).map(
            lambda each: taken(each[0], each[0] + each[1], barn=each[2])
        ),
        max_size=6,
    ),
    st.integers(5, 300),
)
def test_a_proposed_start_never_clashes_and_lies_in_its_span(there, minutes):
    start = first_free(taken=there, barn=1, minutes=minutes, spans=DAY, gap=30)
    if start is not None:
        assert DAY[0][0] <= start <= DAY[0][1]
        assert first_clash(taken(start, start + minutes), there) is None


def test_minutes_and_times_are_each_other():
    assert time_of(minute_of(time(13, 45))) == time(13, 45)
