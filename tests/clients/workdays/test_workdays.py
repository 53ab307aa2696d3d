"""Who works when: own hours by weekday, days away, and days when the whole business is closed."""

from datetime import date, time, timedelta
from html import unescape

import pytest
import time_machine

from backoffice.refusal import Refused
from clients.rounds.actions import plan_round
from clients.rounds.detours import days_for
from clients.rounds.failing import day_instead
from clients.visits.actions import book_visit, move_visit
from clients.visits.hours import first_free_start
from clients.visits.models import Visit
from clients.visits.notes import notes_of
from clients.workdays.actions import drop_absence, note_absence, set_hours
from clients.workdays.models import Absence, WorkingHours
from clients.workdays.queries import Hours, Workdays, workdays_of
from tests.factories.backoffice import UserFactory
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, ready_visit

pytestmark = pytest.mark.django_db
TUESDAY, WEDNESDAY = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)
MORNING = Hours(time(9), time(12))


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


def away(by, now, *, who=None, since=TUESDAY, until=TUESDAY, **fields) -> Absence:
    absence = Absence(practitioner=who, since=since, until=until, **fields)
    return note_absence(absence=absence, at=now, by=by)


def hours(business, person, day=MONDAY):
    return Workdays(business, [person], day, day).hours(person, day)


# Hours


def test_without_hours_of_their_own_people_work_those_of_the_business(business, owner_manager):
    assert hours(business, owner_manager) == Hours(time(8), time(17, 30))


def test_with_some_the_other_weekdays_are_off(business, owner_manager, now):
    set_hours(practitioner=owner_manager, hours={0: MORNING}, at=now, by=owner_manager)
    assert hours(business, owner_manager) == MORNING
    assert hours(business, owner_manager, TUESDAY) is None
    why = Workdays(business, [owner_manager], TUESDAY, TUESDAY).why_away(owner_manager, TUESDAY)
    assert why == f"{owner_manager} does not work on Tuesdays."


def test_hours_set_anew_replace_those_before(business, owner_manager, now):
    for weekdays in ({0: MORNING, 1: MORNING}, {}):
        set_hours(practitioner=owner_manager, hours=weekdays, at=now, by=owner_manager)
    assert not WorkingHours.objects.exists()


def test_a_day_that_ends_before_it_begins_is_refused(owner_manager, now):
    with pytest.raises(Refused, match="A day ends after it begins"):
        set_hours(practitioner=owner_manager, hours={0: Hours(time(9), time(9))}, at=now, by=owner_manager)


# Days away


def test_on_days_away_nobody_is_counted_on_first_and_last_included(business, owner_manager, now):
    away(owner_manager, now, who=owner_manager, since=MONDAY, until=TUESDAY)
    found = [hours(business, owner_manager, MONDAY + timedelta(days=days)) for days in (-1, 0, 1, 2)]
    assert [each is None for each in found] == [False, True, True, False]


def test_a_closed_day_is_everybodys_and_illness_is_not_named(business, owner_manager, assistant, now):
    away(owner_manager, now)
    away(owner_manager, now, who=assistant, since=WEDNESDAY, until=WEDNESDAY, why=Absence.Why.ILLNESS)
    found = Workdays(business, [assistant], TUESDAY, WEDNESDAY)
    assert found.why_away(assistant, TUESDAY) == "The business is closed on Tue 3 Mar."
    assert found.why_away(assistant, WEDNESDAY) == f"{assistant} is away on Wed 4 Mar."


@pytest.mark.parametrize("who", ["somebody else", "everybody"])
def test_an_assistant_writes_down_their_own_days_only(assistant, owner_manager, now, who):
    away(assistant, now, who=assistant)
    with pytest.raises(Refused, match="Only the owner-manager"):
        away(assistant, now, who=owner_manager if who == "somebody else" else None)
    with pytest.raises(Refused, match="Only the owner-manager"):
        set_hours(practitioner=owner_manager, hours={}, at=now, by=assistant)
    theirs = away(owner_manager, now, who=owner_manager)
    with pytest.raises(Refused, match="Only the owner-manager"):
        drop_absence(absence=theirs, at=now, by=assistant)


def test_days_that_end_before_they_begin_are_refused(owner_manager, now):
    with pytest.raises(Refused, match="before the first"):
        away(owner_manager, now, until=MONDAY)


def test_it_is_read_in_two_queries_however_many_people_and_days(
    business, now, owner_manager, django_assert_num_queries
):
    people = [UserFactory() for _ in range(5)]
    for person in people:
        set_hours(practitioner=person, hours={0: MORNING}, at=now, by=owner_manager)
        away(owner_manager, now, who=person)
    with django_assert_num_queries(2):
        found = Workdays(business, people, MONDAY, MONDAY + timedelta(days=60))
        assert [found.hours(person, MONDAY) for person in people] == [MORNING] * 5


# What follows from it


def test_a_visit_is_neither_booked_nor_moved_into_days_away(owner_manager, now):
    visit = ready_visit(day=TUESDAY, practitioner=owner_manager)
    booked = booked_visit(owner_manager)
    away(owner_manager, now, who=owner_manager)
    with pytest.raises(Refused, match=f"{owner_manager} is away on Tue 3 Mar"):
        book_visit(visit=visit, starts=time(9), at=now, by=owner_manager)
    with pytest.raises(Refused, match="is away"):
        move_visit(visit=booked, day=TUESDAY, starts=time(9), at=now, by=owner_manager)
    assert f"{owner_manager} is away on Tue 3 Mar." in notes_of(visit)


def test_what_is_booked_already_stays(owner_manager, now):
    visit = booked_visit(owner_manager, day=TUESDAY)
    away(owner_manager, now, who=owner_manager)
    visit.refresh_from_db()
    assert visit.status == Visit.Status.BOOKED


def test_outside_own_hours_takes_a_reason(owner_manager, now):
    set_hours(practitioner=owner_manager, hours={0: MORNING}, at=now, by=owner_manager)
    visit = ready_visit(practitioner=owner_manager)
    with pytest.raises(Refused, match=r"The working day is 9:00 to 12:00.*Give a reason"):
        book_visit(visit=visit, starts=time(14), at=now, by=owner_manager)
    book_visit(visit=visit, starts=time(14), at=now, by=owner_manager, outside_hours_reason="The owner works.")


def test_the_first_free_start_and_the_days_offered_follow_the_hours(business, owner_manager, now):
    set_hours(practitioner=owner_manager, hours={0: MORNING, 2: MORNING}, at=now, by=owner_manager)
    barn = near_barn()
    starts = [first_free_start(day=day, practitioner=owner_manager, barn=barn, minutes=60) for day in (MONDAY, TUESDAY)]
    assert starts == [time(9), None]
    days = days_for(business=business, practitioner=owner_manager, barn=barn, days=[MONDAY, TUESDAY])
    assert [choice.is_possible for choice in days] == [True, False]
    assert day_instead(booked_visit(owner_manager, barn=barn), business) == WEDNESDAY


def test_no_round_is_planned_on_a_day_away(owner_manager, now):
    booked_visit(owner_manager, day=TUESDAY)
    away(owner_manager, now, who=owner_manager)
    with pytest.raises(Refused, match="Move its visits"):
        plan_round(day=TUESDAY, practitioner=owner_manager, at=now, by=owner_manager)


# The pages


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return unescape(response.content.decode())


def test_the_page_says_what_belongs_there_and_then_what_is_there(as_assistant, assistant, owner_manager):
    assert "None written down." in page(as_assistant, "/diary/days/")
    posted = {"practitioner": assistant.pk, "since": "2026-03-03", "until": "2026-03-05", "why": "training"}
    text = unescape(as_assistant.post("/diary/days/away/", posted, follow=True).content.decode())
    assert "Look at the visits that stand in it." in text
    assert f"{assistant} away" in text
    text = page(as_assistant, "/diary/days/")
    assert "Tue 3 Mar to Thu 5 Mar, training" in text
    as_assistant.post(f"/diary/days/away/{Absence.objects.get().pk}/drop/")
    assert not Absence.objects.exists()


def test_only_the_owner_manager_closes_the_business(as_assistant, as_owner_manager):
    closed = {"practitioner": "", "since": "2026-12-25", "until": "2026-12-25", "why": "holiday", "note": "Christmas"}
    assert as_assistant.post("/diary/days/away/", closed).status_code == 422
    assert as_owner_manager.post("/diary/days/away/", closed).status_code == 302
    assert "Closed" in page(as_owner_manager, "/diary/?week=2026-W52")
    assert "Closed" in page(as_owner_manager, "/diary/month/?month=2026-12")


def test_hours_are_written_weekday_by_weekday(as_owner_manager, owner_manager):
    path = f"/diary/days/hours/{owner_manager.pk}/"
    as_owner_manager.post(path, {"Mon_opens": "09:00", "Mon_closes": "12:00"})
    assert "Mon 9:00–12:00" in page(as_owner_manager, "/diary/days/")
    assert 'value="09:00"' in page(as_owner_manager, path)


@pytest.mark.parametrize(
    ("posted", "sentence"),
    [
        ({"Mon_opens": "09:00"}, "Write both times, or neither."),
        ({"Mon_closes": "09:00"}, "Write both times, or neither."),
        ({"Mon_opens": "09:00", "Mon_closes": "08:00"}, "The day ends after it begins."),
        ({"Mon_opens": "nine"}, "time"),
    ],
)
def test_hours_that_cannot_be_get_a_sentence(as_owner_manager, owner_manager, posted, sentence):
    response = as_owner_manager.post(f"/diary/days/hours/{owner_manager.pk}/", posted)
    assert response.status_code == 422
    assert sentence in unescape(response.content.decode())


def test_days_that_cannot_be_get_a_sentence(as_owner_manager, owner_manager):
    posted = {"practitioner": owner_manager.pk, "since": "2026-03-05", "until": "2026-03-03", "why": "other"}
    response = as_owner_manager.post("/diary/days/away/", posted)
    assert "The last day is before the first." in unescape(response.content.decode())


def test_a_bookkeeper_reads_and_a_stranger_signs_in(client, as_bookkeeper, owner_manager):
    assert as_bookkeeper.get("/diary/days/").status_code == 200
    for path in ("/diary/days/away/", f"/diary/days/hours/{owner_manager.pk}/"):
        assert as_bookkeeper.get(path).status_code == 403
        assert client.get(path).status_code == 302


def test_dates_as_such_hold_over_the_change_of_the_clock(business, owner_manager, now):
    """Sunday 8 March 2026, when clocks go forward in Denver (tz database, America/Denver)."""
    away(owner_manager, now, who=owner_manager, since=date(2026, 3, 8), until=date(2026, 3, 8))
    found = [hours(business, owner_manager, date(2026, 3, day)) is None for day in (7, 8, 9)]
    assert found == [False, True, False]


# Public holidays


def test_ticked_holidays_are_closed_days(as_owner_manager, owner_manager, now):
    with time_machine.travel(now, tick=False):
        html = as_owner_manager.get("/diary/days/holidays/?calendar=holidays+US-CO").content.decode()
        assert "Independence Day" in html
        assert "Columbus Day" not in html  # Colorado keeps Cabrini Day instead, C.R.S. 24-11-101; from memory
        chosen = ["2026-07-04", "2026-12-25", "2031-01-01", "soon"]
        html = as_owner_manager.post("/diary/days/holidays/?calendar=holidays+US-CO", {"closed": chosen}, follow=True)
        assert "Closed on 2 days." in html.content.decode()
        as_owner_manager.post("/diary/days/holidays/", {"closed": ["2026-12-25"]})
        assert "closed already" in as_owner_manager.get("/diary/days/holidays/").content.decode()
    assert list(Absence.objects.values_list("since", "practitioner")) == [
        (date(2026, 7, 4), None),
        (date(2026, 12, 25), None),
    ]
    assert workdays_of(owner_manager, date(2026, 12, 25)).why_away(owner_manager, date(2026, 12, 25))


def test_a_calendar_that_is_none_shows_the_usual_one(as_owner_manager):
    assert "Christmas Day" in as_owner_manager.get("/diary/days/holidays/?calendar=moon").content.decode()


def test_an_assistant_closes_no_holiday(as_assistant):
    assert as_assistant.post("/diary/days/holidays/", {"closed": ["2026-12-25"]}).status_code == 403
