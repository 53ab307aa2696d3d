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
    ("FREQ=DAILY;COUNT=10", "1997-09-02", " ".join(f"1997-09-{day:02}" for day in range(2, 12))),
    ("FREQ=DAILY;INTERVAL=2;COUNT=3", "1997-09-02", "1997-09-02 1997-09-04 1997-09-06"),
    (
        "FREQ=WEEKLY;COUNT=10",
        "1997-09-02",
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-10-07 1997-10-14 1997-10-21 1997-10-28 1997-11-04",
    ),
    (
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997-09-05",
        "1997-09-05 1997-10-03 1997-11-07 1997-12-05 1998-01-02 1998-02-06 1998-03-06 1998-04-03 1998-05-01 1998-06-05",
    ),
    (
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "1997-09-28",
        "1997-09-28 1997-10-29 1997-11-28 1997-12-29 1998-01-29 1998-02-26",
    ),
    (
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        "1997-09-30",
        "1997-09-30 1997-10-01 1997-10-31 1997-11-01 1997-11-30 1997-12-01 1997-12-31 1998-01-01 1998-01-31 1998-02-01",
    ),
    (
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "1997-09-10",
        "1997-09-10 1997-09-11 1997-09-12 1997-09-13 1997-09-14 1997-09-15 1999-03-10 1999-03-11 1999-03-12 1999-03-13",
    ),
    (
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "1997-06-10",
        "1997-06-10 1997-07-10 1998-06-10 1998-07-10 1999-06-10 1999-07-10 2000-06-10 2000-07-10 2001-06-10 2001-07-10",
    ),
    ("FREQ=YEARLY;BYDAY=20MO", "1997-05-19", "1997-05-19 1998-05-18 1999-05-17"),
    ("FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "1997-05-12", "1997-05-12 1998-05-11 1999-05-17"),
    (
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "1997-09-13",
        "1997-09-13 1997-10-11 1997-11-08 1997-12-13 1998-01-10 1998-02-07 1998-03-07 1998-04-11 1998-05-09 1998-06-13",
    ),
    (
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997-09-29",
        "1997-09-29 1997-10-30 1997-11-27 1997-12-30 1998-01-29 1998-02-26 1998-03-30",
    ),
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
        return [pytest.param(None, marks=pytest.mark.skip(reason="the RFC 5545 examples of ../shared are not here"))]
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


# Daylight saving in New York 2026 begins on 8 March and ends on 1 November (IANA time zone database).
@pytest.mark.parametrize(("first", "hours"), [(date(2026, 3, 5), [14, 13]), (date(2026, 10, 29), [13, 14])])
def test_a_weekly_nine_in_new_york_stays_nine_in_spring_and_autumn(first, hours):
    zone = ZoneInfo("America/New_York")
    weekly = days("FREQ=WEEKLY;COUNT=2", first, 14)
    assert [moment(on, time(9), zone).hour for on in weekly] == hours
    assert [moment(on, time(9), zone).astimezone(zone).hour for on in weekly] == [9, 9]


# London leaves summer time on 25 October 2026 (IANA): half past one comes twice, and the first one is meant.
def test_a_time_that_comes_twice_in_london_is_the_first():
    assert moment(date(2026, 10, 25), time(1, 30), ZoneInfo("Europe/London")) == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )


# RFC 5545 §3.3.10: what does not exist is left out, so "monthly on the 31st" alone skips the short months; with the
# days before it and BYSETPOS=-1 a short month uses its last day.
def test_the_31st_alone_skips_short_months_and_with_a_position_it_does_not():
    assert [on.month for on in days("FREQ=MONTHLY;BYMONTHDAY=31", date(2026, 1, 31), 120)] == [1, 3]
    rule = "FREQ=MONTHLY;BYMONTHDAY=28,29,30,31;BYSETPOS=-1"
    assert days(rule, date(2028, 1, 31), 91) == [
        date(2028, 1, 31),
        date(2028, 2, 29),
        date(2028, 3, 31),
        date(2028, 4, 30),
    ]


# RFC 5545 §3.8.5.3: a rule without COUNT or UNTIL goes on for ever; here it ends with its phase.
def test_a_rule_that_never_ends_ends_with_the_last_day_of_its_phase():
    assert days("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=29", date(2026, 3, 2), 365) == []
    assert days("FREQ=DAILY", date(2026, 3, 2), 3)[-1] == date(2026, 3, 4)


# Daylight saving in London 2026 begins on 29 March (value from the IANA time zone database).
def test_a_weekly_nine_in_london_stays_nine():
    zone = ZoneInfo("Europe/London")
    weekly = days("FREQ=WEEKLY;COUNT=2", date(2026, 3, 23), 14)
    assert [moment(on, time(9), zone).hour for on in weekly] == [9, 8]
    assert [moment(on, time(9), zone).astimezone(zone).hour for on in weekly] == [9, 9]
