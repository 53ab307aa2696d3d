"""A day that fails: visits go to days that suit, nobody is charged, owners are told by hand, and it can be undone."""

from datetime import date, time, timedelta
from html import unescape
from urllib.parse import unquote

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from backoffice.refusal import Refused
from clients.animals.models import Role
from clients.rounds.failing import day_instead, free_day, messages_of, put_back
from clients.rounds.models import FailedDay
from clients.rounds.queries import freed_visits
from clients.visits.models import ArrivalLook, Told, Visit
from tests.factories.clients import BarnWindowFactory, GuidelineVersionFactory, PersonFactory, RoleFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db
TUESDAY, WEDNESDAY, THURSDAY = (MONDAY + timedelta(days=days) for days in (1, 2, 3))
SNOW = "Snow on the roads"
FAILED_DAY_QUERIES = 8


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def visit(owner_manager):
    return booked_visit(owner_manager, barn=near_barn(name="Copper Hasp"), is_confirmed=True)


def fail(practitioner, now, day=MONDAY, words=SNOW):
    return free_day(
        day=day, practitioner=practitioner, cause=FailedDay.Cause.WEATHER, words=words, at=now, by=practitioner
    )


def drafts(failed, business):
    return messages_of(failed, freed_visits(failed), business)


# Freeing


def test_each_open_visit_is_pencilled_on_another_day_and_no_longer_promised(visit, owner_manager, now):
    fail(owner_manager, now)
    visit.refresh_from_db()
    assert (visit.status, visit.starts, visit.is_confirmed) == (Visit.Status.PENCILLED, None, False)
    assert MONDAY < visit.day <= MONDAY + timedelta(days=7)


def test_done_begun_and_other_peoples_visits_stay(visit, owner_manager, now):
    done = VisitFactory(completed=True, practitioner=owner_manager)
    begun = booked_visit(owner_manager, starts=time(11))
    look = dict.fromkeys(("no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away"), True)
    ArrivalLook.objects.create(visit=begun, looked_at=now, **look)
    other = VisitFactory(booked=True)
    fail(owner_manager, now)
    for each in (done, begun, other):
        each.refresh_from_db()
        assert each.day == MONDAY


def test_horses_of_one_barn_go_together(owner_manager, now):
    barn = near_barn()
    rows = [booked_visit(owner_manager, animal=ready_animal(barn=barn), starts=time(9 + n)) for n in range(3)]
    booked_visit(owner_manager, barn=near_barn(lat=39.9, lon=-105.1), starts=time(14))
    fail(owner_manager, now)
    assert len({Visit.objects.get(pk=row.pk).day for row in rows}) == 1


@pytest.mark.parametrize(
    ("day", "words", "sentence"),
    [
        (MONDAY - timedelta(days=1), SNOW, "is past"),
        (MONDAY, "  ", "Say what owners are told"),
        (TUESDAY, SNOW, "No visit of this day"),
    ],
)
def test_what_cannot_be_freed_is_refused(visit, now, day, words, sentence):
    owner_manager = visit.practitioner
    with pytest.raises(Refused, match=sentence):
        fail(owner_manager, now, day=day, words=words)
    assert not FailedDay.objects.exists()


# Which day


def test_a_day_within_the_tolerance_of_the_plan_comes_first(visit, business):
    visit.plan = PlanFactory(animal=visit.animal, guideline_version=GuidelineVersionFactory(tolerance_days=1))
    visit.planned_day = MONDAY
    visit.barn.area, visit.barn.area_days = "North", "TH"
    visit.barn.save()
    visit.save()
    assert day_instead(visit, business) == TUESDAY


def test_beyond_the_tolerance_an_area_day_of_the_week_is_taken(visit, business):
    visit.barn.area, visit.barn.area_days = "North", "TH"
    visit.barn.save()
    assert day_instead(visit, business) == THURSDAY


def test_a_closed_barn_and_a_full_day_are_passed_over(visit, business, owner_manager):
    for weekday in (1, 2, 3):
        BarnWindowFactory(barn=visit.barn, weekday=weekday)
    for hour in range(8, 18):
        booked_visit(owner_manager, day=TUESDAY, starts=time(hour), barn=visit.barn)
    assert day_instead(visit, business) == WEDNESDAY


def test_it_comes_before_the_next_visit_of_the_horse_or_not_at_all(visit, business, owner_manager, now):
    VisitFactory(animal=visit.animal, day=WEDNESDAY)
    assert day_instead(visit, business) == TUESDAY
    VisitFactory(animal=visit.animal, day=TUESDAY)
    assert day_instead(visit, business) is None
    fail(owner_manager, now)
    visit.refresh_from_db()
    assert (visit.status, visit.is_late_cancel, visit.cancel_reason) == (Visit.Status.CANCELLED, False, SNOW)


# Telling


def test_one_message_a_person_names_the_horses_and_the_new_day(owner_manager, now, business):
    person = PersonFactory(name="Desmond Quarrie", phone="+1 303 555 0142", email="d@quarrie.example")
    barn = near_barn()
    for name in ("Biscuit", "Oats"):
        animal = ready_animal(name=name, barn=barn)
        RoleFactory(animal=animal, kind=Role.Kind.HANDLER, person=person, since=date(2025, 1, 1))
        booked_visit(owner_manager, animal=animal, starts=time(9 + len(name)))
    failed = fail(owner_manager, now)
    (draft,) = drafts(failed, business)
    new_day = freed_visits(failed)[0].new_day
    assert draft.text == (
        f"Snow on the roads: we cannot come to Oats and Biscuit on Mon 2 Mar. We propose {new_day:%a} "
        f"{new_day.day} Mar. Nothing is charged. Does that suit? {business.name}"
    )
    assert draft.sms.startswith("sms:+13035550142?body=Snow%20on")
    assert unquote(draft.mailto) == f"mailto:d@quarrie.example?body={draft.text}"


def test_a_released_visit_is_said_as_such_and_nobody_is_without_a_word(visit, owner_manager, now, business):
    VisitFactory(animal=visit.animal, day=TUESDAY)
    (draft,) = drafts(fail(owner_manager, now), business)
    assert "the next visit stands as planned" in draft.text
    assert draft.person == visit.animal.ownerships.get().person


def test_who_was_told_is_marked_once(as_assistant, visit, owner_manager, now):
    failed = fail(owner_manager, now)
    person = visit.animal.ownerships.get().person
    for _ in range(2):
        as_assistant.post(f"/failed-days/{failed.pk}/told/{person.pk}/")
    assert Told.objects.get().what == Told.What.FREED
    assert "Told" in as_assistant.get(failed.get_absolute_url()).content.decode()
    assert as_assistant.post(f"/failed-days/{failed.pk}/told/{PersonFactory().pk}/").status_code == 404


# Undoing


def test_putting_it_back_leaves_every_visit_as_it_stood(visit, owner_manager, now):
    pencilled = VisitFactory(practitioner=owner_manager, part=2)
    released = booked_visit(owner_manager, starts=time(12))
    VisitFactory(animal=released.animal, day=TUESDAY)
    before = list(Visit.objects.order_by("pk").values())
    assert put_back(failed_day=fail(owner_manager, now), at=now, by=owner_manager) == []
    assert list(Visit.objects.order_by("pk").values()) == before
    assert pencilled.pk
    with pytest.raises(Refused, match="put back already"):
        put_back(failed_day=FailedDay.objects.get(), at=now, by=owner_manager)


def test_a_visit_changed_since_stays_as_it_is(visit, owner_manager, now):
    failed = fail(owner_manager, now)
    Visit.objects.filter(pk=visit.pk).update(day=THURSDAY + timedelta(days=20))
    (left,) = put_back(failed_day=failed, at=now, by=owner_manager)
    assert "was changed since and stays as it is" in left
    visit.refresh_from_db()
    assert visit.day == THURSDAY + timedelta(days=20)


def test_a_place_taken_since_is_not_taken_back(visit, owner_manager, now):
    failed = fail(owner_manager, now)
    booked_visit(owner_manager)
    (left,) = put_back(failed_day=failed, at=now, by=owner_manager)
    assert "is taken then" in left
    visit.refresh_from_db()
    assert visit.status == Visit.Status.PENCILLED


def test_a_day_that_is_over_is_not_put_back(visit, owner_manager, now):
    failed = fail(owner_manager, now)
    with pytest.raises(Refused, match="is past"):
        put_back(failed_day=failed, at=now + timedelta(days=1), by=owner_manager)


def test_who_was_told_hears_that_we_come_after_all(as_assistant, visit, owner_manager, now, business):
    failed = fail(owner_manager, now)
    other = booked_visit(owner_manager, starts=time(15))
    as_assistant.post(f"/failed-days/{failed.pk}/told/{visit.animal.ownerships.get().person_id}/")
    put_back(failed_day=failed, at=now, by=owner_manager)
    failed.refresh_from_db()
    (draft,) = drafts(failed, business)
    assert draft.text == f"We come on Mon 2 Mar after all, to {visit.animal}. {business.name}"
    assert other.animal.name not in draft.text


# The pages


def test_the_whole_way_from_the_round_and_back(as_assistant, visit, owner_manager):
    path = f"/rounds/2026-03-02/{owner_manager.pk}/"
    assert f"{path}fail/" in as_assistant.get(path).content.decode()
    assert str(visit.animal) in as_assistant.get(f"{path}fail/").content.decode()
    page = as_assistant.post(f"{path}fail/", {"cause": "weather", "words": SNOW}, follow=True)
    text = unescape(page.content.decode())
    assert "The day is free. Look at the new days, then tell the owners." in text
    assert "sms:" in text or "No number and no address on file." in text
    assert "its visits went to other days" in as_assistant.get(path).content.decode()
    back = as_assistant.post(f"/failed-days/{FailedDay.objects.get().pk}/put-back/", follow=True)
    assert "Mon 2 Mar stands as it did." in back.content.decode()


@pytest.mark.parametrize(
    ("posted", "sentence"),
    [
        ({"cause": "weather"}, "What owners are told is missing."),
        ({"words": SNOW}, "What happened"),
        ({"cause": "war", "words": SNOW}, "Choose one from the list."),
        ({"cause": "weather", "words": "It will cure him"}, "promises an outcome"),
    ],
)
def test_bad_words_get_a_sentence_and_free_nothing(as_assistant, visit, owner_manager, posted, sentence):
    response = as_assistant.post(f"/rounds/2026-03-02/{owner_manager.pk}/fail/", posted)
    assert response.status_code == 422
    assert sentence in unescape(response.content.decode())
    visit.refresh_from_db()
    assert visit.day == MONDAY


def test_a_bookkeeper_reads_and_changes_nothing_and_a_stranger_signs_in(
    client, as_bookkeeper, visit, owner_manager, now
):
    failed = fail(owner_manager, now)
    assert as_bookkeeper.get(failed.get_absolute_url()).status_code == 200
    assert as_bookkeeper.get(f"/rounds/2026-03-02/{owner_manager.pk}/fail/").status_code == 403
    for way in ("put-back", "told/1"):
        assert as_bookkeeper.post(f"/failed-days/{failed.pk}/{way}/").status_code == 403
        assert client.post(f"/failed-days/{failed.pk}/{way}/").status_code == 302
    assert client.get(failed.get_absolute_url()).status_code == 302


@pytest.mark.parametrize("rows", [1, 30])
def test_the_page_takes_the_same_queries_however_full_the_day(as_owner_manager, owner_manager, now, rows):
    for _ in range(rows):
        booked_visit(owner_manager)
    failed = fail(owner_manager, now)
    with CaptureQueriesContext(connection) as queries:
        as_owner_manager.get(failed.get_absolute_url())
    assert len(queries) == FAILED_DAY_QUERIES
