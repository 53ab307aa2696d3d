"""Planning back from an event, against a search through every start."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clients.plans.back_planning import NoStart, plan_back
from clients.plans.cadence import DaysOff, Kind, OnDayOff, Phase, Schedule, start_before_event

EVENT = date(2026, 5, 9)
MARCH = date(2026, 3, 1)
ROUNDS = Schedule((Phase(6, full_every=3, spots_per_day=1),))


def test_an_event_gives_the_start_the_last_full_body_and_a_sentence():
    found = plan_back(ROUNDS, EVENT, 2, on=MARCH)
    assert (found.start, found.last_full) == (date(2026, 5, 4), date(2026, 5, 7))
    assert found.sentence == "It starts on Mon 4 May 2026; the last full body is on Thu 7 May 2026."


def test_weekdays_that_do_not_fit_the_event_are_said():
    mondays = Schedule((Phase(28, full_rule="FREQ=WEEKLY;BYDAY=MO"),))
    found = plan_back(mondays, EVENT, 2, on=MARCH)
    assert found.last_full == date(2026, 5, 4)
    assert "3 days earlier than asked, by its weekdays or days off." in found.sentence


def test_days_off_and_holidays_are_kept_clear():
    off = DaysOff.of(["TH", "holidays GB-ENG"])
    found = plan_back(Schedule((Phase(22, full_every=7),), off, OnDayOff.DROP), date(2026, 5, 6), 2, on=MARCH)
    assert found.last_full == date(2026, 5, 3)  # Mon 4 May 2026 is the early May bank holiday
    assert "1 day earlier than asked" in found.sentence


@pytest.mark.parametrize(
    ("schedule", "event", "on", "sentence"),
    [
        (ROUNDS, EVENT, date(2026, 5, 10), "The event on Sat 9 May 2026 is past."),
        (ROUNDS, date(1926, 5, 9), MARCH, "The event on Sun 9 May 1926 is past."),
        (Schedule((Phase(6, spots_per_day=1),)), EVENT, MARCH, "There is no full body to count from the event."),
        (
            Schedule((Phase(6, full_rule="FREQ=WEEKLY;BYDAY=TH"),), DaysOff.of(["TH"]), OnDayOff.DROP),
            EVENT,
            MARCH,
            "no full",
        ),
        (ROUNDS, EVENT, date(2026, 5, 5), "it would have to start on Mon 4 May 2026, which is past."),
    ],
)
def test_an_event_that_cannot_be_met_gets_a_sentence(schedule, event, on, sentence):
    with pytest.raises(NoStart, match=sentence):
        plan_back(schedule, event, 2, on=on)


schedules = st.builds(
    Schedule,
    phases=st.lists(
        st.one_of(
            st.builds(Phase, days=st.integers(1, 20), full_every=st.none() | st.integers(1, 9)),
            st.builds(Phase, days=st.integers(1, 20), full_rule=st.sampled_from(["FREQ=WEEKLY;BYDAY=MO,TH"])),
        ),
        min_size=1,
        max_size=3,
    ).map(tuple),
    days_off=st.sets(st.sampled_from(["SU", "SA", "WE", "2026-05-01"])).map(DaysOff.of),
    on_day_off=st.sampled_from(OnDayOff),
)


@settings(max_examples=40)
@given(schedules, st.integers(0, 10))
def test_no_start_puts_the_last_full_body_nearer_to_the_wished_day(schedule, days_before):
    target = EVENT - timedelta(days=days_before)

    def last_full(start):
        full = [each.on for each in schedule.expand(start).sessions if each.kind == Kind.FULL]
        return full[-1] if full else None

    found = start_before_event(schedule, EVENT, days_before)
    others = (last_full(target - timedelta(days=back)) for back in range(100))
    fitting = [last for last in others if last is not None and last <= target]
    assert (last_full(found) if found else None) == max(fitting, default=None)
