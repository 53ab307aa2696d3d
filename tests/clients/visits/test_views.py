from datetime import date, time, timedelta

import pytest
import time_machine

from clients.paperwork.models import StopNote
from clients.visits.actions import book_visit
from clients.visits.models import Visit
from tests.factories.clients import (
    ApplicatorFactory,
    CautionFactory,
    MachineFactory,
    ServiceFactory,
    VetPracticeFactory,
)
from tests.factories.visits import MONDAY, VisitFactory, ready_visit

pytestmark = pytest.mark.django_db
DIARY_QUERIES = 8
MONTH_QUERIES = 6
STRANGE_WORDS = ["هادئ اليوم", "calm 🐴", "<script>alert(1)</script>"]


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def booked(now):
    return book_visit(visit=ready_visit(), starts=time(9, 0), at=now, by=None)


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return response.content.decode()


def post(client, path, facts=None, status=302):
    response = client.post(path, facts or {})
    assert response.status_code == status, response.content.decode()[-4000:]
    return response.content.decode()


def sheet_post(**changes):
    areas = {
        "areas-TOTAL_FORMS": "2",
        "areas-INITIAL_FORMS": "2",
        "areas-0-is_done": "on",
        "areas-0-area": "Withers",
        "areas-0-minutes": "3",
        "areas-1-area": "Girth",
        "areas-1-minutes": "3",
    }
    return {"no_stop_sign": "on", "is_dry": "on", "ease_before": "4", "ease_after": "", **areas} | changes


# The diary


def test_the_diary_shows_the_week_with_its_stops_and_areas(as_owner_manager, booked):
    booked.barn.area, booked.barn.area_days = "North", "MO"
    booked.barn.save()
    text = page(as_owner_manager, "/diary/")
    assert str(booked.animal) in text
    assert "9:00" in text
    assert "North" in text
    assert str(booked.animal) not in page(as_owner_manager, "/diary/?week=2026-W11")


@pytest.mark.parametrize("week", ["nonsense", "2026-W99", "1926-W01", "99999-W01", "2026-W", "<script>"])
def test_a_week_that_is_none_shows_a_week(as_owner_manager, week):
    assert "Week after" in page(as_owner_manager, f"/diary/?week={week}")


@pytest.mark.parametrize("month", ["nonsense", "2026-13", "1926-01", "2026-11"])
def test_a_month_is_shown_whatever_is_asked(as_owner_manager, month):
    assert "Month after" in page(as_owner_manager, f"/diary/month/?month={month}")


def test_the_diary_of_one_person(as_owner_manager, booked):
    other = VisitFactory(booked=True)
    text = page(as_owner_manager, f"/diary/?who={booked.practitioner_id}")
    assert str(booked.animal) in text
    assert str(other.animal) not in text


@pytest.mark.parametrize("rows", [1, 30])
def test_the_diary_takes_the_same_queries_however_full(as_owner_manager, django_assert_num_queries, rows):
    for number in range(rows):
        VisitFactory(booked=True, day=MONDAY + timedelta(days=number % 7))
    with django_assert_num_queries(DIARY_QUERIES):
        page(as_owner_manager, "/diary/")
    with django_assert_num_queries(MONTH_QUERIES):
        page(as_owner_manager, "/diary/month/")


@pytest.mark.parametrize("path", ["/diary/", "/diary/month/"])
def test_a_stranger_sees_no_diary(client, path):
    assert client.get(path).status_code == 302


# A visit


def new_visit(**changes):
    machine = MachineFactory()
    visit = ready_visit(machine=machine)
    Visit.objects.filter(pk=visit.pk).delete()
    return {
        "animal": visit.animal_id,
        "service": visit.service_id,
        "practitioner": visit.practitioner_id,
        "machine": machine.pk,
        "day": "2026-03-02",
        "starts": "9:00",
    } | changes


def test_a_new_visit_with_a_time_is_booked(as_owner_manager):
    post(as_owner_manager, "/visits/new/", new_visit())
    assert Visit.objects.get().status == Visit.Status.BOOKED


def test_a_new_visit_without_a_time_is_pencilled(as_owner_manager):
    post(as_owner_manager, "/visits/new/", new_visit(starts=""))
    assert Visit.objects.get().status == Visit.Status.PENCILLED


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"minutes": "900"}, "Write 300 or less."),
        ({"day": "1926-03-02"}, "This date is before 1980"),
        ({"day": "2026-02-28"}, "Sat 28 Feb 2026 is past."),
        ({"starts": "25:99"}, "Write a time such as 8:30."),
        ({"starts": "18:00"}, "The working day is 8:00 to 17:30"),
        ({"animal": "999999"}, "Choose one from the list."),
        ({"machine": ""}, "needs a machine"),
        ({"override_reason": "x" * 5000}, "Write at most 500 characters"),
    ],
)
def test_an_absurd_visit_is_answered_and_loses_nothing(as_owner_manager, typed, sentence):
    facts = new_visit(outside_hours_reason="", **typed)
    text = post(as_owner_manager, "/visits/new/", facts, status=422)
    assert sentence in text
    assert not Visit.objects.exists()


def test_a_pencilled_visit_is_booked_at_the_proposed_time(as_owner_manager):
    visit = ready_visit()
    assert 'value="08:00"' in page(as_owner_manager, f"/visits/{visit.pk}/book/")
    post(as_owner_manager, f"/visits/{visit.pk}/book/", {"starts": "8:00", "machine": visit.machine_id})
    visit.refresh_from_db()
    assert visit.status == Visit.Status.BOOKED


def test_a_refused_booking_keeps_what_was_typed(as_owner_manager, booked):
    visit = ready_visit(practitioner=booked.practitioner)
    text = post(as_owner_manager, f"/visits/{visit.pk}/book/", {"starts": "09:15", "machine": visit.machine_id}, 422)
    assert "is taken then" in text
    assert 'value="09:15"' in text


def test_a_visit_is_moved_confirmed_and_cancelled(as_owner_manager, booked):
    facts = {"day": "2026-03-03", "starts": "09:00", "practitioner": booked.practitioner_id}
    facts["weighed"] = f"2026-03-03/{booked.practitioner_id}"
    post(as_owner_manager, f"/visits/{booked.pk}/move/", facts)
    post(as_owner_manager, f"/visits/{booked.pk}/confirm/")
    booked.refresh_from_db()
    assert (booked.day, booked.is_confirmed) == (date(2026, 3, 3), True)
    assert "late by your notice hours" in page(as_owner_manager, f"/visits/{booked.pk}/cancel/")
    post(as_owner_manager, f"/visits/{booked.pk}/cancel/", {"reason": "Owner away"})
    assert "Owner away" in page(as_owner_manager, f"/visits/{booked.pk}/")


def test_forms_ask_only_for_what_applies(as_owner_manager):
    visit = ready_visit(service=ServiceFactory(uses_machine=False), machine=None)
    text = page(as_owner_manager, f"/visits/{visit.pk}/book/")
    assert 'name="machine"' not in text
    assert 'name="override_reason"' not in text
    assert 'name="starts"' not in page(as_owner_manager, f"/visits/{visit.pk}/move/")
    assert 'name="override_reason"' in page(as_owner_manager, f"/visits/{VisitFactory().pk}/book/")


def test_a_pencilled_visit_moves_without_a_time(as_owner_manager):
    visit = VisitFactory()
    facts = {"day": "2026-03-04", "practitioner": visit.practitioner_id}
    facts["weighed"] = f"2026-03-04/{visit.practitioner_id}"
    post(as_owner_manager, f"/visits/{visit.pk}/move/", facts)
    visit.refresh_from_db()
    assert visit.day == date(2026, 3, 4)


def test_a_visit_page_says_what_is_missing(as_owner_manager):
    visit = VisitFactory(machine=None)
    text = page(as_owner_manager, f"/visits/{visit.pk}/")
    assert "No machine is set aside yet." in text
    assert "consent" in text.lower()


def test_a_bookkeeper_sees_the_visit_without_health_and_changes_nothing(as_bookkeeper, booked):
    text = page(as_bookkeeper, f"/visits/{booked.pk}/")
    assert "Permission to work" not in text
    for way in ("book", "move", "cancel", "sheet", "could-not", "stop", "next"):
        assert as_bookkeeper.get(f"/visits/{booked.pk}/{way}/").status_code == 403, way
    for way in ("confirm", "complete"):
        assert as_bookkeeper.post(f"/visits/{booked.pk}/{way}/").status_code == 403, way


# The sheet


def test_the_sheet_puts_cautions_and_permission_on_top(as_assistant, booked):
    CautionFactory(animal=booked.animal, area="Near hock", note="Warm in January")
    text = page(as_assistant, f"/visits/{booked.pk}/sheet/")
    assert text.index("Take care: Near hock") < text.index("Arrival look-over") < text.index("Withers")
    assert text.count("Ask before working here") == 1
    assert "First session with us" in text


def test_completing_by_the_sheet_writes_the_report(as_assistant, booked):
    loop = ApplicatorFactory()
    facts = sheet_post(**{"areas-0-applicator": loop.pk, "areas-0-setting": "4", "reaction": "licking"})
    post(as_assistant, f"/visits/{booked.pk}/complete/", facts)
    booked.refresh_from_db()
    (session,) = booked.sessions.all()
    assert [(area.area, area.applicator, area.setting) for area in session.areas.all()] == [("Withers", loop, 4)]
    assert (session.ease_before, session.ease_after, session.reaction) == (4, None, "licking")
    assert f"/documents/{booked.report_id}/" in page(as_assistant, f"/visits/{booked.pk}/")
    assert as_assistant.get(f"/documents/{booked.report_id}/")["Content-Type"] == "application/pdf"


def test_as_last_time_fills_in_what_was_used_then(as_assistant, booked):
    loop = ApplicatorFactory()
    before = VisitFactory(completed=True, animal=booked.animal, day=MONDAY - timedelta(days=3))
    session = before.sessions.create(service=before.service, minutes=9)
    session.areas.create(position=1, area="Withers", minutes=9, applicator=loop, setting=7)
    session.areas.create(position=2, area="Tail head", minutes=2)
    text = page(as_assistant, f"/visits/{booked.pk}/sheet/?as=last")
    assert "Filled in as last time" in text
    assert 'value="9"' in text
    assert 'value="7"' in text
    assert "Tail head" in text
    assert "First session with us" not in text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"no_stop_sign": ""}, "Stop and call the vet."),
        ({"areas-0-minutes": "900"}, "Write 120 or less."),
        ({"areas-0-minutes": ""}, "Write the minutes."),
        ({"areas-0-setting": "99"}, "Write 20 or less."),
        ({"areas-0-is_done": ""}, "A session takes from 1 to 300 minutes"),
        ({"areas-0-area": ""}, "Name the area."),
        ({"ease_before": "11"}, "Choose one from the list."),
        ({"note": "x" * 50000}, "Write at most 4000 characters"),
        ({"areas-TOTAL_FORMS": "5000"}, ""),
    ],
)
def test_an_absurd_sheet_is_answered_and_loses_nothing(as_assistant, booked, typed, sentence):
    facts = sheet_post(reaction="was calm", **typed)
    text = post(as_assistant, f"/visits/{booked.pk}/complete/", facts, status=422)
    assert sentence in text
    assert "was calm" in text
    booked.refresh_from_db()
    assert booked.status == Visit.Status.BOOKED


@pytest.mark.parametrize("words", STRANGE_WORDS)
def test_words_in_any_script_are_kept_and_escaped(as_assistant, booked, words):
    post(as_assistant, f"/visits/{booked.pk}/complete/", sheet_post(note=words, reaction=words))
    text = page(as_assistant, f"/visits/{booked.pk}/")
    assert "<script>alert" not in text
    booked.refresh_from_db()
    assert booked.note == words


def test_a_horse_on_hold_has_no_form_to_start_with(as_assistant, booked, owner_manager, now):
    StopNote.objects.create(animal=booked.animal, seen="Sweating", opened_at=now, opened_by=owner_manager)
    text = page(as_assistant, f"/visits/{booked.pk}/sheet/")
    assert "Do not start." in text
    assert "Complete the visit" not in text


def test_a_sheet_of_a_visit_that_is_over_leads_to_the_visit(as_assistant):
    visit = VisitFactory(completed=True)
    assert as_assistant.get(f"/visits/{visit.pk}/sheet/").url == f"/visits/{visit.pk}/"


def test_massage_asks_for_no_machine_settings(as_assistant, now):
    visit = ready_visit(service=ServiceFactory(uses_machine=False), machine=None)
    book_visit(visit=visit, starts=time(9, 0), at=now, by=None)
    text = page(as_assistant, f"/visits/{visit.pk}/sheet/")
    assert "Set-up list" not in text
    assert 'name="areas-0-setting"' not in text


def test_could_not_work_leads_to_the_next_visit(as_assistant, booked):
    post(as_assistant, f"/visits/{booked.pk}/could-not/", {"cause": "wet"})
    booked.refresh_from_db()
    assert (booked.status, booked.cause) == (Visit.Status.COULD_NOT_WORK, "wet")
    assert "Choose" in post(as_assistant, f"/visits/{booked.pk}/could-not/", {"cause": "bored"}, status=422)


def test_stop_and_call_the_vet_has_the_numbers_and_holds_the_horse(as_assistant, booked):
    booked.animal.vet_practice = VetPracticeFactory(phone="555-0142")
    booked.animal.save()
    text = page(as_assistant, f"/visits/{booked.pk}/stop/")
    assert 'href="tel:555-0142"' in text
    assert 'href="tel:555-0100"' in text
    assert "10:00 " in text
    post(as_assistant, f"/visits/{booked.pk}/stop/", {"seen": "10:02 Pawing"})
    assert StopNote.objects.get().animal == booked.animal


def test_stopping_without_a_vets_number_says_so(as_assistant, booked):
    assert "No vet's number is on file" in page(as_assistant, f"/visits/{booked.pk}/stop/")


def test_leaving_sets_the_next_visit_or_a_reason(as_assistant):
    visit = VisitFactory(completed=True)
    path = f"/visits/{visit.pk}/next/"
    assert "Set the next day, or say why" in post(as_assistant, path, {"service": visit.service_id}, status=422)
    post(as_assistant, path, {"service": visit.service_id, "reason": "Owner travels"})
    visit.refresh_from_db()
    assert visit.call_list_reason == "Owner travels"
    post(as_assistant, path, {"service": visit.service_id, "day": "2026-03-16"})
    assert Visit.objects.filter(animal=visit.animal, day=date(2026, 3, 16)).exists()
    text = post(as_assistant, path, {"service": visit.service_id, "day": "2026-03-02"}, status=422)
    assert "The next visit is after Mon 2 Mar 2026." in text
