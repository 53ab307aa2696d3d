"""The ways to say a rhythm, the rules they become, and rules in words."""

from datetime import date

import pytest

from clients.plans.cadence import Phase
from clients.plans.recurrence import read_rule, rule_days
from clients.plans.rhythm import Rhythm, Way, read_rhythm, rule_of_month_day, rule_of_weekdays, say_phase, say_rule


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=WEEKLY;BYDAY=MO,TH", "on Mondays and Thursdays"),
        ("RRULE:FREQ=WEEKLY;INTERVAL=1;BYDAY=TH,MO;WKST=SU", "on Mondays and Thursdays"),
        ("freq=weekly;byday=we", "on Wednesdays"),
        ("FREQ=WEEKLY;INTERVAL=2;BYDAY=MO", "on Monday of every second week"),
        ("FREQ=WEEKLY;INTERVAL=3;BYDAY=MO,FR,SU", "on Monday, Friday and Sunday of every 3 weeks"),
        ("FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR,SA,SU", "every day"),
        ("FREQ=DAILY", "every day"),
        ("FREQ=DAILY;INTERVAL=3;COUNT=4", "every 3 days, 4 times"),
        ("FREQ=WEEKLY", "every week"),
        ("FREQ=WEEKLY;INTERVAL=6", "every 6 weeks"),
        ("FREQ=MONTHLY", "every month"),
        ("FREQ=MONTHLY;BYMONTHDAY=15", "on the 15th of each month"),
        ("FREQ=MONTHLY;BYMONTHDAY=1,22", "on the 1st and 22nd of each month"),
        ("FREQ=MONTHLY;BYMONTHDAY=-1", "on the last day of each month"),
        ("FREQ=MONTHLY;BYMONTHDAY=28,29,30,31;BYSETPOS=-1", "on the 31st or the last day of each month"),
        ("FREQ=MONTHLY;INTERVAL=2;BYMONTHDAY=13", "on the 13th of every second month"),
        ("FREQ=MONTHLY;BYDAY=1MO", "on the first Monday of each month"),
        ("FREQ=MONTHLY;BYDAY=-1FR;COUNT=1", "on the last Friday of each month, once"),
        ("FREQ=WEEKLY;BYDAY=MO;UNTIL=20261224", "on Mondays, until 24 Dec 2026"),
        ("FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "by the rule FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO"),
        ("FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-2", "by the rule FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-2"),
        ("FREQ=MONTHLY;BYDAY=MO", "by the rule FREQ=MONTHLY;BYDAY=MO"),
        ("nonsense", "by the rule nonsense"),
    ],
)
def test_a_rule_is_said_in_words_where_it_has_plain_ones(rule, words):
    assert say_rule(rule) == words


@pytest.mark.parametrize("day", range(1, 32))
def test_a_day_of_the_month_gives_one_session_a_month_the_last_day_in_a_short_one(day):
    found = rule_days(rule_of_month_day(day), date(2026, 1, 1), 120)
    assert [each.month for each in found] == [1, 2, 3, 4]
    assert [each.day for each in found] == [day, min(day, 28), day, min(day, 30)]


def test_weekdays_become_a_rule_in_the_order_of_the_week():
    assert rule_of_weekdays({"TH", "MO"}) == "FREQ=WEEKLY;BYDAY=MO,TH"


@pytest.mark.parametrize(
    ("full_every", "full_rule", "rhythm"),
    [
        (3, "", Rhythm(Way.DAYS, every=3)),
        (None, "", Rhythm(Way.NONE)),
        (None, "FREQ=WEEKLY;BYDAY=MO,TH", Rhythm(Way.WEEKDAYS, weekdays=("MO", "TH"))),
        (None, "FREQ=WEEKLY;INTERVAL=2;BYDAY=MO", Rhythm(Way.RULE, rule="FREQ=WEEKLY;INTERVAL=2;BYDAY=MO")),
        (None, "FREQ=MONTHLY;BYMONTHDAY=15", Rhythm(Way.MONTHLY, month_day=15)),
        (None, "FREQ=MONTHLY;BYMONTHDAY=31,30,28,29;BYSETPOS=-1", Rhythm(Way.MONTHLY, month_day=31)),
        (None, "FREQ=WEEKLY", Rhythm(Way.RULE, rule="FREQ=WEEKLY")),
    ],
)
def test_the_columns_of_a_phase_are_read_back_as_a_person_would_say_them(full_every, full_rule, rhythm):
    assert read_rhythm(full_every, full_rule) == rhythm


def test_every_month_day_and_weekday_comes_back_as_it_was_chosen():
    assert [read_rhythm(None, rule_of_month_day(day)).month_day for day in range(1, 32)] == list(range(1, 32))
    assert read_rule(rule_of_month_day(31)).text == "FREQ=MONTHLY;BYMONTHDAY=28,29,30,31;BYSETPOS=-1"


@pytest.mark.parametrize(
    ("phase", "words"),
    [
        (Phase(12, full_every=3, spots_per_day=1), "12 days: a full body every 3 days, a spot on each other day"),
        (Phase(1, full_every=1, spots_per_day=1), "1 day: a full body every day"),
        (Phase(7, spots_per_day=2), "7 days: no full body, two spots on each day"),
        (Phase(28, full_rule="FREQ=WEEKLY;BYDAY=MO"), "28 days: a full body on Mondays"),
        (Phase(5), "5 days: no full body"),
    ],
)
def test_a_phase_is_said_in_words(phase, words):
    assert say_phase(phase) == words
