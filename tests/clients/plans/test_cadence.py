"""Phases become dates: order, days off, the term's end, back-planning, local times."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.plans.cadence import (
    DaysOff,
    Kind,
    OnDayOff,
    Outcome,
    Phase,
    PlannedSession,
    Schedule,
    in_order,
    moment,
    start_before_event,
)
from clients.plans.recurrence import WrongRule, read_rule, rule_days

MONDAY = date(2026, 3, 2)


def day(offset):
    return MONDAY + timedelta(days=offset)


def marks(sessions, start=MONDAY):
    """Sessions as text: F for a full body, S and s for the first and second spot, with the offset of the day."""
    letters = {(Kind.FULL, 1): "F", (Kind.SPOT, 1): "S", (Kind.SPOT, 2): "s"}
    return " ".join(f"{letters[each.kind, each.part]}{(each.on - start).days}" for each in sessions)


def expanded(*phases, days=None, off=(), on_day_off=OnDayOff.KEEP):
    return Schedule(phases, DaysOff.of(off), on_day_off).expand(MONDAY, days)


@pytest.mark.parametrize(
    ("phases", "days", "expected"),
    [
        ([Phase(7, full_every=3)], 7, "F0 F3 F6"),
        ([Phase(4, full_every=3, spots_per_day=1)], 4, "F0 S1 S2 F3"),
        ([Phase(3, full_every=3, spots_per_day=2)], 3, "F0 S1 s1 S2 s2"),
        ([Phase(2, spots_per_day=2)], 2, "S0 s0 S1 s1"),
        ([Phase(5, full_every=9)], 5, "F0"),
        ([Phase(5)], 5, ""),
        ([Phase(3, full_every=1), Phase(7, full_every=7)], 10, "F0 F1 F2 F3"),
        ([Phase(1, full_every=1), Phase(9, spots_per_day=1)], 10, "F0 S1 S2 S3 S4 S5 S6 S7 S8 S9"),
        ([Phase(28, full_every=7)], 10, "F0 F7"),
        ([Phase(2, full_every=2), Phase(50, full_every=10)], 13, "F0 F2 F12"),
        ([Phase(10, full_rule="FREQ=WEEKLY;BYDAY=WE")], 10, "F2 F9"),
        ([Phase(8, full_rule="FREQ=WEEKLY;BYDAY=WE", spots_per_day=1)], 8, "S0 S1 F2 S3 S4 S5 S6 S7"),
        ([Phase(30, full_rule="FREQ=WEEKLY;BYDAY=WE;COUNT=2")], 30, "F2 F9"),
    ],
)
def test_phases_follow_each_other_and_end_with_the_term(phases, days, expected):
    assert marks(expanded(*phases, days=days).sessions) == expected


def test_a_monthly_rule_on_the_31st_uses_the_last_day_of_a_short_month():
    phase = Phase(120, full_rule="FREQ=MONTHLY;BYMONTHDAY=28,29,30,31;BYSETPOS=-1")
    assert [each.on for each in phase.sessions(date(2026, 1, 31))] == [
        date(2026, 1, 31),
        date(2026, 2, 28),
        date(2026, 3, 31),
        date(2026, 4, 30),
    ]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"days": 0}, "from 1 to 3660 days"),
        ({"days": 3661}, "from 1 to 3660 days"),
        ({"days": 7, "full_every": 0}, "at least 1"),
        ({"days": 7, "full_every": 3, "full_rule": "FREQ=DAILY"}, "not both"),
        ({"days": 7, "spots_per_day": 3}, "from 0 to 2 spots"),
        ({"days": 7, "spots_per_day": -1}, "from 0 to 2 spots"),
        ({"days": 7, "full_rule": "every day"}, "NAME=VALUE"),
    ],
)
def test_a_phase_without_sense_is_refused(fields, sentence):
    with pytest.raises(ValueError, match=sentence):
        Phase(**fields)


@pytest.mark.parametrize(
    ("phases", "off", "expected"),
    [
        ([Phase(8, full_every=3)], ["TH"], "F0 F4 F6"),
        ([Phase(8, full_every=3, spots_per_day=1)], ["TH"], "F0 S1 S2 F4 S5 F6 S7"),
        ([Phase(4, full_every=1)], ["TU"], "F0 F2 F3"),
        ([Phase(5, full_every=4, spots_per_day=2)], ["TU"], "F0 S2 s2 S3 s3 F4"),
        ([Phase(5, full_every=4, spots_per_day=1)], ["TU", "WE", "TH"], "F0 F4"),
        ([Phase(2, spots_per_day=1), Phase(3, spots_per_day=2)], ["2026-03-03"], "S0 S2 s2 S3 s3 S4 s4"),
        ([Phase(3, full_every=2, spots_per_day=1)], ["TU", "WE"], "F0"),
        ([Phase(7, full_every=1)], ["MO", "TU", "WE", "TH", "FR", "SA", "SU"], ""),
    ],
)
def test_a_day_off_moves_a_session_to_the_next_open_day(phases, off, expected):
    assert marks(expanded(*phases, off=off, on_day_off=OnDayOff.NEXT).sessions) == expected


def test_a_moved_full_body_absorbs_the_spots_that_it_meets_and_says_so():
    plan = expanded(Phase(8, full_every=3, spots_per_day=2), off=["TH"], on_day_off=OnDayOff.NEXT)
    absorbed = [change for change in plan.changes if change.outcome == Outcome.ABSORBED]
    assert [(each.session.on, each.session.part) for each in absorbed] == [(day(4), 1), (day(4), 2)]
    assert plan.notices[0] == ("The spot of Fri 6 Mar 2026 is absorbed by the full body of Fri 6 Mar 2026.")


def test_two_full_bodies_become_one_and_two_spots_become_one():
    fulls = expanded(Phase(3, full_every=1), off=["TU"], on_day_off=OnDayOff.NEXT)
    spots = expanded(Phase(3, spots_per_day=1), off=["TU"], on_day_off=OnDayOff.NEXT)
    assert marks(fulls.sessions) == "F0 F2"
    assert marks(spots.sessions) == "S0 S2"
    assert fulls.notices == ("The full body of Tue 3 Mar 2026 is absorbed by the full body of Wed 4 Mar 2026.",)
    assert spots.notices == ("The spot of Tue 3 Mar 2026 is absorbed by the spot of Wed 4 Mar 2026.",)


def test_a_plain_move_is_a_change_but_not_a_notice():
    plan = expanded(Phase(8, full_every=4), off=["FR"], on_day_off=OnDayOff.NEXT)
    assert [str(change) for change in plan.changes] == [
        "The full body of Fri 6 Mar 2026 falls on a day off and moves to Sat 7 Mar 2026."
    ]
    assert plan.notices == ()


def test_a_move_past_the_terms_end_drops_the_session_and_lists_it():
    plan = expanded(Phase(7, full_every=6), off=["SU"], on_day_off=OnDayOff.NEXT)
    assert marks(plan.sessions) == "F0"
    assert plan.notices == ("The full body of Sun 8 Mar 2026 would fall after the term and is dropped.",)


def test_dropping_lists_each_session_and_keeping_changes_nothing():
    dropped = expanded(Phase(7, full_every=3), off=["TH"], on_day_off=OnDayOff.DROP)
    kept = expanded(Phase(7, full_every=3), off=["TH"], on_day_off=OnDayOff.KEEP)
    assert marks(dropped.sessions) == "F0 F6"
    assert dropped.notices == ("The full body of Thu 5 Mar 2026 falls on a day off and is dropped.",)
    assert marks(kept.sessions) == "F0 F3 F6"
    assert kept.changes == ()


@pytest.mark.parametrize("entry", ["XX", "2026-02-30", "su", "20260302", "2026-3-2", ""])
def test_a_day_off_that_is_neither_weekday_nor_date_is_refused(entry):
    with pytest.raises(ValueError, match="not a date"):
        DaysOff.of([entry])


def test_an_event_finds_the_start_that_puts_the_last_full_body_before_it():
    schedule = Schedule((Phase(28, full_every=3, spots_per_day=1),))
    start = start_before_event(schedule, date(2026, 5, 9), 2)
    assert start == date(2026, 4, 10)
    assert max(each.on for each in schedule.expand(start).sessions if each.kind == Kind.FULL) == date(2026, 5, 7)


def test_back_planning_by_weekday_takes_the_latest_fitting_start_with_all_full_bodies():
    schedule = Schedule((Phase(28, full_rule="FREQ=WEEKLY;BYDAY=MO"),))
    assert start_before_event(schedule, date(2026, 5, 6), 2) == date(2026, 4, 13)
    assert start_before_event(schedule, date(2026, 5, 8), 2) == date(2026, 4, 13)


def test_back_planning_respects_days_off():
    schedule = Schedule((Phase(22, full_every=7),), DaysOff.of(["TH"]), OnDayOff.NEXT)
    start = start_before_event(schedule, date(2026, 5, 9), 2)
    last = max(each.on for each in schedule.expand(start).sessions)
    assert last <= date(2026, 5, 7)
    assert (date(2026, 5, 7) - last).days <= 1
    assert len(schedule.expand(start).sessions) == 4


def test_a_schedule_without_full_bodies_has_no_start_before_an_event():
    assert start_before_event(Schedule((Phase(7, spots_per_day=1),)), date(2026, 5, 9), 2) is None


def test_nine_in_the_morning_stays_nine_across_daylight_saving():
    for zone, before, after in [
        ("Europe/London", date(2026, 3, 23), date(2026, 3, 30)),
        ("America/New_York", date(2026, 3, 2), date(2026, 3, 9)),
    ]:
        place = ZoneInfo(zone)
        first, second = moment(before, time(9), place), moment(after, time(9), place)
        assert second - first == timedelta(days=7, hours=-1)
        assert second.astimezone(place).time() == time(9)


def test_a_time_in_the_spring_gap_uses_the_offset_before_it():
    assert moment(date(2007, 3, 11), time(2, 30), ZoneInfo("America/New_York")) == datetime(
        2007, 3, 11, 7, 30, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("rule", "sentence"),
    [
        ("", "NAME=VALUE"),
        ("FREQ=HOURLY", "FREQ must be"),
        ("COUNT=3", "FREQ must be"),
        ("FREQ=DAILY;FREQ=DAILY", "stands twice"),
        ("FREQ=DAILY;BYHOUR=9", "BYHOUR is not a part"),
        ("FREQ=DAILY;INTERVAL=0", "INTERVAL must be"),
        ("FREQ=DAILY;INTERVAL=99999999999999999999", "INTERVAL must be"),
        ("FREQ=DAILY;INTERVAL=٣", "INTERVAL must be"),
        ("FREQ=DAILY;COUNT=-1", "COUNT must be"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20260401", "may not stand together"),
        ("FREQ=DAILY;UNTIL=tomorrow", "UNTIL must be a date"),
        ("FREQ=DAILY;UNTIL=20260230", "UNTIL must be a date"),
        ("FREQ=WEEKLY;BYDAY=XX", "BYDAY has no day"),
        ("FREQ=WEEKLY;BYDAY=1MO", "may not carry a number"),
        ("FREQ=MONTHLY;BYDAY=6MO", "at most the weekday number 5"),
        ("FREQ=MONTHLY;BYMONTHDAY=32", 'BYMONTHDAY has no "32"'),
        ("FREQ=MONTHLY;BYMONTHDAY=0", 'BYMONTHDAY has no "0"'),
        ("FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30", "no month of BYMONTH"),
        ("FREQ=WEEKLY;BYMONTHDAY=3", "may not stand with FREQ=WEEKLY"),
        ("FREQ=MONTHLY;BYSETPOS=1", "needs another BY part"),
        ("FREQ=WEEKLY;BYDAY=MO;BYSETPOS=9", "BYSETPOS reaches at most 7"),
        ("FREQ=YEARLY;BYWEEKNO=3;BYDAY=1MO", "BYWEEKNO"),
        ("FREQ=WEEKLY;WKST=9", "WKST must be"),
    ],
)
def test_a_rule_that_is_not_one_by_days_is_refused_with_its_part(rule, sentence):
    with pytest.raises(WrongRule, match=sentence):
        read_rule(rule)


def test_a_rule_may_be_written_small_and_with_its_name():
    assert rule_days("rrule:freq=daily;count=2", MONDAY, 9) == (day(0), day(1))


def test_a_rule_that_never_ends_ends_with_its_phase():
    assert len(rule_days("FREQ=DAILY", MONDAY, 40)) == 40


phases = st.builds(
    Phase,
    days=st.integers(1, 60),
    full_every=st.one_of(st.none(), st.integers(1, 40)),
    spots_per_day=st.integers(0, 2),
)
weekdays = st.sets(st.sampled_from(["MO", "TU", "WE", "TH", "FR", "SA", "SU"]))


@given(st.lists(phases, min_size=1, max_size=4), st.integers(1, 120), weekdays, st.sampled_from(OnDayOff))
def test_no_session_leaves_the_term_or_doubles_another(some, days, off, on_day_off):
    plan = Schedule(tuple(some), DaysOff.of(off), on_day_off).expand(MONDAY, days)
    end = day(days)
    assert all(MONDAY <= each.on < end for each in plan.sessions)
    assert list(plan.sessions) == sorted(plan.sessions, key=in_order)
    full = {each.on for each in plan.sessions if each.kind == Kind.FULL}
    assert not any(each.on in full for each in plan.sessions if each.kind == Kind.SPOT)
    assert len(set(plan.sessions)) == len(plan.sessions)
    if on_day_off != OnDayOff.KEEP:
        assert not DaysOff.of(off).within(MONDAY, days) & {each.on for each in plan.sessions}


@given(st.lists(phases, min_size=1, max_size=4), weekdays, st.sampled_from(OnDayOff))
def test_every_session_is_kept_or_accounted_for(some, off, on_day_off):
    planned = Schedule(tuple(some)).expand(MONDAY).sessions
    plan = Schedule(tuple(some), DaysOff.of(off), on_day_off).expand(MONDAY)
    lost = [each for each in plan.changes if each.outcome != Outcome.MOVED]
    assert len(plan.sessions) + len(lost) == len(planned)


def test_a_planned_session_cannot_be_changed():
    with pytest.raises(AttributeError):
        PlannedSession(MONDAY, Kind.FULL).on = day(1)
