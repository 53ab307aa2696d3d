import pytest

from clients.rounds.day_round import DayRequest, Lunch, Priority, Span
from tests.clients.rounds.days import day, everywhere, span, stop


@pytest.mark.parametrize(
    ("stops", "minutes", "sentence"),
    [
        ([stop("A", 1, 30), stop("A", 1, 30)], everywhere(10, 2), "the same key"),
        ([stop("A", 2, 30)], everywhere(10, 2), "outside the matrix"),
        ([stop("A", -1, 30)], everywhere(10, 2), "outside the matrix"),
        ([], [[0, 1]], "not square"),
        ([], [], "not square"),
        ([stop("A", 1, -30)], everywhere(10, 2), "less than nothing"),
        ([], [[0, -1], [1, 0]], "less than nothing"),
    ],
)
def test_a_request_that_makes_no_sense_is_a_mistake_of_the_caller(stops, minutes, sentence):
    with pytest.raises(ValueError, match=sentence):
        day(stops, minutes)


def test_lunch_lasts_no_less_than_nothing():
    with pytest.raises(ValueError, match="less than nothing"):
        DayRequest(Span(0, 10), ((0,),), (), Lunch(-1, Span(0, 1)))


def test_a_locked_stop_ranks_above_its_priority():
    assert stop("A", 1, 30, priority=Priority.LOW, locked=0).tier > stop("B", 1, 30, priority=Priority.HIGH).tier


def test_windows_are_taken_in_order_of_time_and_empty_ones_left_out():
    windows = (span("14:00", "15:00"), span("12:00", "11:00"), span("09:00", "10:00"))
    assert stop("A", 1, 30, windows=windows).start_windows(span("08:00", "17:00")) == (windows[2], windows[0])
