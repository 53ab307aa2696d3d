"""The fields that several forms share: a rhythm, and days off."""

import pytest

from backoffice.business.models import Business
from clients.plans.days_off import say_days_off
from clients.plans.fields import DaysOffFields, RhythmFields, days_off_initial, rhythm_initial


def read(**data):
    form = RhythmFields(data)
    if not form.is_valid():
        return form.errors.get_json_data()
    return form.cleaned_data["full_every"], form.cleaned_data["full_rule"]


@pytest.mark.parametrize(
    ("data", "columns"),
    [
        ({"rhythm": "days", "full_every": "3", "full_rule": "nonsense", "weekdays": ["MO"]}, (3, "")),
        ({"rhythm": "weekdays", "weekdays": ["TH", "MO"], "full_every": "x"}, (None, "FREQ=WEEKLY;BYDAY=MO,TH")),
        ({"rhythm": "monthly", "month_day": "15"}, (None, "FREQ=MONTHLY;BYMONTHDAY=15")),
        (
            {"rhythm": "monthly", "month_day": "31"},
            (None, "FREQ=MONTHLY;BYMONTHDAY=28,29,30,31;BYSETPOS=-1"),
        ),
        ({"rhythm": "rule", "full_rule": " FREQ=MONTHLY;BYDAY=1MO "}, (None, "FREQ=MONTHLY;BYDAY=1MO")),
        ({"rhythm": "none", "full_every": "3"}, (None, "")),
        ({"full_every": "4"}, (4, "")),
        ({"full_rule": "FREQ=WEEKLY"}, (None, "FREQ=WEEKLY")),
        ({}, (None, "")),
    ],
)
def test_a_rhythm_becomes_the_columns_of_a_phase(data, columns):
    assert read(**data) == columns


@pytest.mark.parametrize(
    ("data", "field", "sentence"),
    [
        ({"rhythm": "days"}, "full_every", "Say every how many days."),
        ({"rhythm": "days", "full_every": "0"}, "full_every", "Write 1 or more."),
        ({"rhythm": "days", "full_every": "-3"}, "full_every", "Write 1 or more."),
        ({"rhythm": "days", "full_every": "99999"}, "full_every", "Write 365 or less."),
        ({"rhythm": "weekdays"}, "weekdays", "Tick at least one weekday."),
        ({"rhythm": "monthly"}, "month_day", "Choose the day of the month."),
        ({"rhythm": "monthly", "month_day": "32"}, "month_day", "Choose one from the list."),
        ({"rhythm": "rule"}, "full_rule", "Write the rule."),
        (
            {"rhythm": "rule", "full_rule": "FREQ=HOURLY"},
            "full_rule",
            "This is not a rule by days: FREQ must be DAILY, WEEKLY, MONTHLY or YEARLY.",
        ),
        ({"rhythm": "rule", "full_rule": "🐴" * 5000}, "full_rule", "Write at most 200 characters; this has 5000."),
    ],
)
def test_a_rhythm_that_makes_no_sense_gets_one_sentence_at_its_field(data, field, sentence):
    errors = read(**data)
    assert list(errors) == [field]
    assert [each["message"] for each in errors[field]] == [sentence]


@pytest.mark.parametrize(
    "columns", [(3, ""), (None, ""), (None, "FREQ=WEEKLY;BYDAY=MO,TH"), (None, "FREQ=MONTHLY;BYDAY=1MO")]
)
def test_a_rhythm_that_is_shown_and_sent_back_stays_the_same(columns):
    shown = {name: value for name, value in rhythm_initial(*columns).items() if value is not None}
    assert read(**shown) == columns


DAYS_OFF = {"on_day_off": "next"}


@pytest.mark.django_db
def test_days_off_are_weekdays_dates_and_a_calendar_and_come_back_as_shown():
    data = {
        **DAYS_OFF,
        "off_weekdays": ["SU"],
        "off_dates": "2026-12-24  2026-03-17,2026-03-17",
        "off_holidays": "holidays US-KY",
    }
    form = DaysOffFields(data)
    assert form.is_valid()
    entries = form.days_off()
    assert entries == ["SU", "2026-03-17", "2026-12-24", "holidays US-KY"]
    again = DaysOffFields(days_off_initial(entries, "next"))
    assert again.is_valid()
    assert again.days_off() == entries
    assert DaysOffFields(DAYS_OFF).is_valid()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("off_dates", "tomorrow", 'This cannot be read: "tomorrow" is not a date such as 2026-03-17.'),
        ("off_dates", "1926-03-17", "This cannot be read: 1926-03-17 is not between 1980 and 2100."),
        ("off_dates", "2026-01-01," * 61, "This cannot be read: at most 60 dates; this has 61."),
        ("off_dates", "<script>" * 200, "Write at most 800 characters; this has 1600."),
        ("off_holidays", "holidays XX", "Choose one from the list."),
        ("on_day_off", "never", "Choose one from the list."),
    ],
)
def test_days_off_that_cannot_be_read_get_a_sentence(name, value, sentence):
    form = DaysOffFields({**DAYS_OFF, name: value})
    assert [each["message"] for each in form.errors.get_json_data()[name]] == [sentence]


@pytest.mark.django_db
def test_the_calendars_of_the_business_come_first_and_one_of_elsewhere_stays_to_choose():
    Business.objects.create(pk=1, name="Any", words=Business.Words.UK)
    form = DaysOffFields(initial={"off_holidays": "holidays DE-BY"})
    choices = form.fields["off_holidays"].choices
    assert choices[:2] == [("", "none"), ("holidays DE-BY", "public holidays (Bayern, Germany)")]
    assert choices[2][0] == "United Kingdom"


def test_days_off_are_said_in_words():
    assert say_days_off(["SU", "2026-03-17", "holidays US-KY"], "next") == (
        "Sundays, Tue 17 Mar 2026 and public holidays (Kentucky, United States): a session moves to the next open day"
    )
    assert say_days_off(["holidays NZ"], "drop") == "Public holidays (New Zealand): a session is left out"
    assert say_days_off([], "next") == ""
