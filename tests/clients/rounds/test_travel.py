import pytest

from clients.rounds.travel import METRES_IN_A_MILE, Place, StraightLine

HERE, THERE = Place(40.0, -105.0), Place(40.5, -105.2)


def test_the_estimate_is_the_line_times_circuity_at_the_given_speed():
    table = StraightLine(circuity=1.0, speed_mph=60.0).table([HERE, THERE])
    miles = table.metres[0][1] / METRES_IN_A_MILE
    assert table.seconds[0][1] == pytest.approx(miles * 60, abs=1)
    wound = StraightLine(circuity=1.5, speed_mph=60.0).table([HERE, THERE])
    assert wound.seconds[0][1] == pytest.approx(1.5 * table.seconds[0][1], abs=1)


def test_it_takes_as_long_back_as_there_and_no_time_to_stay():
    table = StraightLine().table([HERE, THERE])
    assert table.seconds[0][1] == table.seconds[1][0] > 0
    assert table.seconds[0][0] == table.metres[1][1] == 0
    assert table.source == "estimate"


def test_extra_time_of_a_place_is_spent_on_every_drive_to_or_from_it():
    lane = Place(THERE.latitude, THERE.longitude, extra_seconds=300)
    plain, slow = StraightLine().table([HERE, THERE]), StraightLine().table([HERE, lane])
    assert slow.seconds[0][1] == plain.seconds[0][1] + 300
    assert slow.seconds[1][0] == plain.seconds[1][0] + 300
    assert slow.metres == plain.metres


def test_two_barns_at_the_same_point_are_no_drive_apart():
    lane = Place(THERE.latitude, THERE.longitude, extra_seconds=300)
    assert StraightLine().table([lane, lane]).seconds == ((0, 0), (0, 0))


def test_no_place_gives_an_empty_table():
    assert StraightLine().table([]).seconds == ()


@pytest.mark.parametrize("wrong", [{"speed_mph": 0.0}, {"circuity": -1.0}, {"speed_mph": float("nan")}])
def test_a_speed_or_circuity_that_is_not_above_zero_is_refused(wrong):
    with pytest.raises(ValueError, match="above zero"):
        StraightLine(**wrong)
