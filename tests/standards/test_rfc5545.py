"""RFC 5545 §3.8.5.3: the examples of recurrence rules that work by days, through our own expansion."""

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from clients.plans.cadence import Phase, moment
from clients.plans.recurrence import WrongRule, read_rule

EXAMPLES = Path(__file__).resolve().parents[3] / "shared/data/rrule/rfc5545_3.8.5.3_examples.json"
LONGEST_DAYS = 3660


def days(rule, start, length):
    return [session.on for session in Phase(length, full_rule=rule).sessions(start)]


def dates(text):
    return [date.fromisoformat(each) for each in text.split()]


# Written from RFC 5545 §3.8.5.3 (September 2009).
WRITTEN = [
    (
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "1997-09-02",
        "1997-09-02 1997-09-16 1997-09-30 1997-10-14 1997-10-28 1997-11-11 1997-11-25 1997-12-09 1997-12-23 "
        "1998-01-06 1998-01-20 1998-02-03 1998-02-17",
    ),
    (
        "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
        "1997-09-22",
        "1997-09-22 1997-10-20 1997-11-17 1997-12-22 1998-01-19 1998-02-16",
    ),
    (
        "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        "2007-01-15",
        "2007-01-15 2007-01-30 2007-02-15 2007-03-15 2007-03-30",
    ),
    (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "1997-08-05",
        "1997-08-05 1997-08-10 1997-08-19 1997-08-24",
    ),
    (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "1997-08-05",
        "1997-08-05 1997-08-17 1997-08-19 1997-08-31",
    ),
    (
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        "1997-09-02",
        "1997-09-02 1997-09-04 1997-09-09 1997-09-11 1997-09-16 1997-09-18 1997-09-23 1997-09-25 1997-09-30 1997-10-02",
    ),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", "1997-09-02", "1997-09-02 1997-09-12 1997-09-22 1997-10-02 1997-10-12"),
    ("FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "1997-09-04", "1997-09-04 1997-10-07 1997-11-06"),
]


@pytest.mark.parametrize(("rule", "start", "expected"), WRITTEN)
def test_written_examples_give_the_dates_of_the_standard(rule, start, expected):
    wanted = dates(expected)
    length = (wanted[-1] - date.fromisoformat(start)).days + 1
    assert days(rule, date.fromisoformat(start), length) == wanted


def test_until_as_a_date_includes_that_day():
    assert days("FREQ=DAILY;UNTIL=19970904", date(1997, 9, 2), 30)[-1] == date(1997, 9, 4)


def test_a_daily_rule_until_christmas_eve_at_midnight_ends_the_day_before():
    found = days("FREQ=DAILY;UNTIL=19971224T000000Z", date(1997, 9, 2), 365)
    assert (len(found), found[-1]) == (113, date(1997, 12, 23))


def cases():
    if not EXAMPLES.exists():
        return [pytest.param(None, marks=pytest.mark.skip(reason="the RFC 5545 example file is not here"))]
    found = json.loads(EXAMPLES.read_text())["cases"]
    return [pytest.param(case, id=case["rrule"]) for case in found]


@pytest.mark.parametrize("case", cases())
def test_every_example_by_days_gives_the_dates_of_the_standard(case):
    if case["status"] == "time-of-day":
        with pytest.raises(WrongRule):
            read_rule(case["rrule"])
        return
    start = datetime.strptime(case["dtstart"].rpartition(":")[2], "%Y%m%dT%H%M%S").date()
    if case["expected"] is None:
        assert days(case["rrule"], start, 5)[:3] == [start, start + timedelta(days=2), start + timedelta(days=4)]
        return
    expected = [datetime.fromisoformat(moment).date() for moment, _zone in case["expected"]]
    # Some examples run longer than a phase may: those are compared as far as a phase reaches.
    length = min((expected[-1] - start).days + 1, LONGEST_DAYS)
    within = [on for on in expected if (on - start).days < length]
    found = days(case["rrule"], start, length)
    excluded = [start] if case["exdate"] else []
    assert [on for on in found if on not in excluded] == within


# RFC 5545 §3.3.5: a local time in the gap of spring is read with the offset before the gap.
def test_half_past_two_in_the_gap_of_new_york_is_half_past_three():
    found = moment(date(2007, 3, 11), time(2, 30), ZoneInfo("America/New_York"))
    assert found == datetime(2007, 3, 11, 7, 30, tzinfo=UTC)
    assert found.astimezone(ZoneInfo("America/New_York")).time() == time(3, 30)


# Daylight saving in London 2026 begins on 29 March (value from the IANA time zone database).
def test_a_weekly_nine_in_london_stays_nine():
    zone = ZoneInfo("Europe/London")
    weekly = days("FREQ=WEEKLY;COUNT=2", date(2026, 3, 23), 14)
    assert [moment(on, time(9), zone).hour for on in weekly] == [9, 8]
    assert [moment(on, time(9), zone).astimezone(zone).hour for on in weekly] == [9, 9]
