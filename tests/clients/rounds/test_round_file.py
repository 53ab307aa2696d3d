import json

import pytest

from clients.rounds.day_round import Isolation, Lunch, Priority
from clients.rounds.round_file import MOST_STOPS, WrongRoundFile, parse_round
from tests.clients.rounds.days import MINUTE, at, span

RIGHT = {
    "day": {"start": "08:00", "end": "17:00"},
    "minutes": [[0, 12, 20], [12, 0, 9], [20, 9, 0]],
    "lunch": {"minutes": 30, "from": "11:30", "to": "13:30"},
    "stops": [
        {"id": "A", "at": 1, "minutes": 75, "windows": [["09:00", "12:00"]], "isolation": "clean", "priority": "high"},
        {"id": "B", "at": 2, "minutes": 40, "locked": "13:15"},
    ],
}


def changed(**names):
    return {**RIGHT, **names}


def with_stop(**names):
    return changed(stops=[{**RIGHT["stops"][0], **names}])


def errors(written):
    with pytest.raises(WrongRoundFile) as caught:
        parse_round(written if isinstance(written, str) else json.dumps(written))
    return list(caught.value.errors)


def test_every_part_of_a_file_is_read():
    request = parse_round(json.dumps(RIGHT))
    assert request.day == span("08:00", "17:00")
    assert request.drive[1] == (12 * MINUTE, 0, 9 * MINUTE)
    assert request.lunch == Lunch(30 * MINUTE, span("11:30", "13:30"))
    first, second = request.stops
    assert (first.key, first.place, first.seconds, first.priority) == ("A", 1, 75 * MINUTE, Priority.HIGH)
    assert first.windows == (span("09:00", "12:00"),)
    assert (second.locked, second.isolation, second.priority) == (at("13:15"), Isolation.CLEAN, Priority.NORMAL)


def test_decimals_are_rounded_up_to_whole_seconds():
    request = parse_round(
        '{"day": {"start": "08:00", "end": "17:00"}, "minutes": [[0, 0.1], [1e-999999, 0]], "stops": []}'
    )
    assert request.drive == ((0, 6), (1, 0))


def test_points_are_driven_at_the_speed_of_the_file():
    points = [[40.0, -105.0], [40.5, -105.2]]
    slow, fast = (
        parse_round(
            json.dumps({"day": RIGHT["day"], "points": points, "speed_mph": speed, "circuity": 1.2, "stops": []})
        )
        for speed in (20, 40)
    )
    assert slow.drive[0][1] == pytest.approx(2 * fast.drive[0][1], abs=2)


def test_points_are_rounded_up_to_whole_seconds():
    """A degree of latitude from the equator is 110,574.4 m on the WGS84 ellipsoid: 9,214.5 s at 12 m/s."""
    file = {"day": RIGHT["day"], "points": [[0, 0], [1, 0]], "speed_mph": 26.843235, "circuity": 1, "stops": []}
    assert parse_round(json.dumps(file)).drive == ((0, 9215), (9215, 0))


@pytest.mark.parametrize(
    ("written", "error"),
    [
        ("{", "line 1, column 2: this is not JSON."),
        ("", "line 1, column 1: this is not JSON."),
        ("[" * 100_000, "file: it is nested too deeply."),
        ('{"day": 1, "day": 2}', "file: written twice in one place: day."),
        ([], "file: this must be an object in braces."),
        (changed(dya=1), "dya: not known here; known are day, minutes, points, speed_mph, circuity, lunch, stops."),
        (changed(day=5), "day: this must be an object in braces."),
        (changed(day={"start": "08:00"}), "day.end: this is missing."),
        (changed(day={"start": "18:00", "end": "17:00"}), "day: it ends at 17:00, before it starts at 18:00."),
        (changed(day={"start": 8, "end": "17:00"}), 'day.start: 8 is not a time of day like "09:30".'),
        (changed(points=[]), 'file: the drives must be given either as "minutes" or as "points".'),
        (changed(circuity=1.2), 'circuity: this only goes with "points".'),
        (changed(minutes=7), "minutes: this must be a list in brackets."),
        (changed(minutes=[]), "minutes: there is no place in it, not even the base."),
        (changed(minutes=[[0, 1], [1, 0], [1, 2, 0]]), "minutes[0]: there are 2 drives for 3 places."),
        (changed(minutes=[[0, 1], 3]), "minutes[1]: this must be a list in brackets."),
        (changed(minutes=[[0, "x"], [1, 0]]), "minutes[0][1]: x is not a number."),
        (changed(minutes=[[0, -1], [1, 0]]), "minutes[0][1]: this must be from 0 to 1,000,000."),
        (changed(minutes=[[0, float("nan")], [1, 0]]), "minutes[0][1]: NaN is not a number."),
        (changed(lunch={"minutes": 30, "from": "14:00", "to": "13:30"}),
         "lunch: it ends at 13:30, before it starts at 14:00."),
        (changed(lunch={"minutes": True, "from": "12:00", "to": "13:30"}), "lunch.minutes: true is not a number."),
        (changed(stops={}), "stops: this must be a list in brackets."),
        (changed(stops=[3]), "stops[0]: this must be an object in braces."),
        (changed(stops=[RIGHT["stops"][0]] * 2), "stops[1].id: stops[0] has the same id."),
        (changed(stops=[{}] * (MOST_STOPS + 1)), "stops: there are 501; a day is planned from at most 500."),
        (with_stop(id=""), "stops[0].id: this must be text in quotes."),
        (with_stop(at=3), "stops[0].at: there is no place 3; the last one is 2."),
        (with_stop(at=1.5), "stops[0].at: a place is a whole number."),
        (with_stop(at=-1), "stops[0].at: this must be from 0 to 1,000,000."),
        (with_stop(minutes=10**400), "stops[0].minutes: this must be from 0 to 1,000,000."),
        (with_stop(windows=[]),
         "stops[0].windows: there must be a window in it; without the name the whole day is open."),
        (with_stop(windows=[["12:00", "09:00"]]), "stops[0].windows[0]: it ends at 09:00, before it starts at 12:00."),
        (with_stop(windows=[["12:00"]]), 'stops[0].windows[0]: this must be ["09:00", "12:00"].'),
        (with_stop(locked="13:75"), 'stops[0].locked: "13:75" is not a time of day like "09:30".'),
        (with_stop(isolation="green"), "stops[0].isolation: green is none of clean, exposed, infected."),
        (with_stop(priority=["high"]), 'stops[0].priority: ["high"] is none of high, normal, low.'),
        (with_stop(priority="x" * 10_000), "stops[0].priority: " + "x" * 39 + "… is none of high, normal, low."),
    ],
)  # fmt: skip
def test_each_mistake_is_told_by_its_place(written, error):
    assert error in errors(written)


@pytest.mark.parametrize(
    ("point", "error"),
    [
        ([91, 0], "points[1][0]: this must be from -90 to 90."),
        ([0, 181], "points[1][1]: this must be from -180 to 180."),
        ([0], "points[1]: this must be [latitude, longitude]."),
    ],
)
def test_a_wrong_point_is_told_and_still_counts_as_a_place(point, error):
    file = {"day": RIGHT["day"], "points": [[0, 0], point], "stops": [{"id": "A", "at": 1, "minutes": 5}]}
    assert errors(file) == [error]


@pytest.mark.parametrize(("name", "value"), [("speed_mph", 0), ("circuity", 0.5), ("speed_mph", "fast")])
def test_a_speed_or_circuity_out_of_bounds_is_told(name, value):
    file = {"day": RIGHT["day"], "points": [[0, 0]], "stops": [], name: value}
    assert [error.split(":")[0] for error in errors(file)] == [name]


def test_all_mistakes_are_told_at_once():
    file = changed(
        day={"start": "x", "end": "17:00"},
        lunch=7,
        stops=[{"id": "A", "at": 9, "minutes": -1}, {"at": 1, "minutes": 5, "priority": "urgent"}],
    )
    assert [error.split(":")[0] for error in errors(file)] == [
        "day.start",
        "lunch",
        "stops[0].at",
        "stops[0].minutes",
        "stops[1].id",
        "stops[1].priority",
    ]
