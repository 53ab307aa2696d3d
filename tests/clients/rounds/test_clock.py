import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rounds.clock import DAY, clock, seconds_of_clock


@pytest.mark.parametrize(
    ("moment", "text"),
    [(0, "00:00"), (43800, "12:10"), (43830, "12:10:30"), (87600, "00:20 (+1 day)"), (-60, "23:59 (-1 day)")],
)
def test_a_moment_is_written_as_people_do(moment, text):
    assert clock(moment) == text


@given(st.integers(0, DAY - 1))
def test_what_is_written_can_be_read_back(moment):
    assert seconds_of_clock(clock(moment)) == moment


@pytest.mark.parametrize("text", ["", "9:30", "24:01", "12:60", "12:10:99", "noon", "12.10", "١٢:١٠", "12:10\n"])
def test_anything_else_is_no_time(text):
    assert seconds_of_clock(text) is None


def test_the_day_ends_at_twenty_four():
    assert seconds_of_clock("24:00") == DAY
