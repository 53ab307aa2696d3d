"""Holiday calendars as days off. Dates laid down by law: 5 U.S.C. 6103 for the United States, the Banking and
Financial Dealings Act 1971 for England; that the package `holidays` gives them is what is checked (from memory)."""

from datetime import date

import pytest

from clients.plans.cadence import DaysOff, OnDayOff, Phase, Schedule
from clients.plans.holiday_calendars import NoCalendar, calendar_choices, holidays_in, read_calendar, say_calendar


@pytest.mark.parametrize(
    ("calendar", "day", "name"),
    [
        ("US", date(2026, 11, 26), "Thanksgiving Day"),
        ("US", date(2026, 7, 3), "Independence Day (observed)"),
        ("US-KY", date(2026, 4, 3), "Good Friday"),
        ("GB-ENG", date(2026, 4, 6), "Easter Monday"),
        ("GB-ENG", date(2026, 12, 28), "Boxing Day (observed)"),
        ("DE-BY", date(2026, 1, 6), "Epiphany"),
    ],
)
def test_a_calendar_knows_its_holidays_by_name(calendar, day, name):
    assert holidays_in(calendar, day.year)[day] == name


def test_a_part_of_a_country_may_have_more_than_the_country():
    assert date(2026, 4, 6) not in holidays_in("GB-SCT", 2026)
    assert date(2026, 4, 3) not in holidays_in("US", 2026)


@pytest.mark.parametrize("entry", ["holidays XX", "holidays US-ZZ", "holidays us", "holidays ", "holidays US-", "US"])
def test_an_unknown_calendar_is_refused_with_a_sentence(entry):
    with pytest.raises(NoCalendar, match="is not a holiday calendar such as"):
        read_calendar(entry)
    with pytest.raises(ValueError, match="is not a"):
        DaysOff.of([entry])


def test_a_session_on_a_holiday_moves_and_one_dropped_or_absorbed_names_it():
    off = DaysOff.of(["holidays US"])
    start = date(2026, 11, 24)
    dropped = Schedule((Phase(7, full_every=2),), off, OnDayOff.DROP).expand(start)
    moved = Schedule((Phase(7, full_every=2),), off, OnDayOff.NEXT).expand(start)
    absorbed = Schedule((Phase(4, full_every=1),), off, OnDayOff.NEXT).expand(start)
    assert dropped.notices == (
        "The full body of Thu 26 Nov 2026 (Thanksgiving Day) falls on a day off and is dropped.",
    )
    assert date(2026, 11, 27) in [each.on for each in moved.sessions]
    assert absorbed.notices == (
        "The full body of Thu 26 Nov 2026 (Thanksgiving Day) is absorbed by the full body of Fri 27 Nov 2026.",
    )


def test_a_term_over_new_year_takes_the_holidays_of_both_years():
    found = DaysOff.of(["holidays GB-ENG"]).within(date(2026, 12, 20), 20)
    assert found == {date(2026, 12, 25), date(2026, 12, 26), date(2026, 12, 28), date(2027, 1, 1)}


def test_calendars_are_offered_and_said_in_words():
    first, second, others = calendar_choices("GB")
    assert first[1][:2] == (("holidays GB", "United Kingdom, whole country"), ("holidays GB-ENG", "England"))
    assert ("holidays US-KY", "Kentucky") in second[1]
    assert ("holidays NZ", "New Zealand") in others[1]
    assert say_calendar("holidays US-KY") == "public holidays (Kentucky, United States)"
    assert say_calendar("holidays NZ") == "public holidays (New Zealand)"
