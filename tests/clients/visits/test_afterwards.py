"""What reaches the office after the work was done; set-up lists; photos of a visit."""

from datetime import time

import pytest

from backoffice.refusal import Refused
from clients.paperwork.actions import open_stop_note
from clients.visits.actions import (
    AreaDone,
    ArrivalSeen,
    SessionDone,
    amend_session,
    book_visit,
    cancel_visit,
    complete_visit,
    record_work,
    write_visit_report,
)
from clients.visits.models import StopList, Visit
from tests.factories.visits import ready_visit
from tests.uploads import photo, upload

FIT = ArrivalSeen(no_stop_sign=True)


@pytest.fixture
def booked(owner_manager, now):
    return book_visit(visit=ready_visit(practitioner=owner_manager), starts=time(9, 0), at=now, by=owner_manager)


def work(visit, **words):
    return [SessionDone(service=visit.service, areas=(AreaDone("Withers", 3), AreaDone("Loins", 4)), **words)]


def test_work_done_before_a_hold_was_written_is_recorded_with_what_permission_says(booked, owner_manager, now):
    open_stop_note(animal=booked.animal, seen="Lying down, sweating.", at=now, by=owner_manager)
    with pytest.raises(Refused, match="hold"):
        complete_visit(visit=booked, arrival=FIT, sessions=work(booked), at=now, by=owner_manager)
    visit, decision = record_work(visit=booked, arrival=FIT, sessions=work(booked), at=now, by=owner_manager)
    assert visit.status == Visit.Status.COMPLETED
    assert (decision.result, visit.start_decision) == ("hold", decision)


def test_work_on_a_visit_called_off_meanwhile_waits_for_a_person(booked, owner_manager, now):
    cancel_visit(visit=booked, reason="Owner away.", at=now, by=owner_manager)
    given = {"visit": booked, "arrival": FIT, "sessions": work(booked), "at": now, "by": owner_manager}
    with pytest.raises(Refused, match="Only a booked visit"):
        record_work(**given)
    visit, _ = record_work(**given, whatever_the_diary_says=True)
    assert (visit.status, visit.cancel_reason, visit.cancelled_at) == (Visit.Status.COMPLETED, "", None)


def test_a_visit_is_written_up_once_whatever_the_diary_says(booked, owner_manager, now):
    given = {"arrival": FIT, "sessions": work(booked), "at": now, "by": owner_manager}
    record_work(visit=booked, **given)
    with pytest.raises(Refused, match="written up already"):
        record_work(visit=booked, **given, whatever_the_diary_says=True)


def test_a_stop_sign_is_refused_afterwards_too(booked, owner_manager, now):
    with pytest.raises(Refused, match="stop sign"):
        record_work(visit=booked, arrival=ArrivalSeen(False), sessions=work(booked), at=now, by=owner_manager)


def test_what_comes_later_is_added_and_the_report_written_anew(booked, owner_manager, now, private_folder):
    complete_visit(visit=booked, arrival=FIT, sessions=work(booked, ease_before=4), at=now, by=owner_manager)
    first = write_visit_report(visit=booked, at=now, by=owner_manager)
    areas = [AreaDone("Hocks", 5), AreaDone("Loins", 6, reaction="quiet")]
    session = amend_session(visit=booked, areas=areas, words={"ease_after": 7}, at=now, by=owner_manager)
    assert [(area.area, area.minutes, area.reaction) for area in session.areas.all()] == [
        ("Withers", 3, ""),
        ("Loins", 6, "quiet"),
        ("Hocks", 5, ""),
    ]
    assert (session.minutes, session.ease_before, session.ease_after) == (14, 4, 7)
    with pytest.raises(Refused, match="report already"):
        write_visit_report(visit=booked, at=now, by=owner_manager)
    second = write_visit_report(visit=booked, at=now, by=owner_manager, anew=True)
    booked.refresh_from_db()
    assert (booked.report, list(booked.earlier_reports.all())) == (second, [first])


@pytest.mark.parametrize(
    ("areas", "words", "sentence"),
    [
        ([AreaDone("Hocks", 0)], {}, "An area takes from 1 to 120 minutes, not 0."),
        ([], {"ease_after": 11}, "Ease is a number from 0 to 10, or blank."),
        ([AreaDone("Hocks", 120), AreaDone("Croup", 120), AreaDone("Hips", 120)], {}, "from 1 to 300 minutes"),
    ],
)
def test_what_comes_later_keeps_to_the_same_bounds(booked, now, areas, words, sentence):
    by = booked.practitioner
    complete_visit(visit=booked, arrival=FIT, sessions=work(booked), at=now, by=by)
    with pytest.raises(Refused, match=sentence):
        amend_session(visit=booked, areas=areas, words=words, at=now, by=by)


def test_only_a_completed_visit_is_added_to(booked, owner_manager, now):
    with pytest.raises(Refused, match="Only a completed visit"):
        amend_session(visit=booked, areas=[], words={}, at=now, by=owner_manager)


@pytest.mark.usefixtures("private_folder")
def test_the_set_up_list_is_asked_once_a_stop(booked, as_owner_manager, owner_manager, now, time_machine):
    time_machine.move_to(now, tick=False)
    another = ready_visit(practitioner=owner_manager, barn=booked.barn)
    book_visit(visit=another, starts=time(11, 0), at=now, by=owner_manager)
    sheet = f"/visits/{booked.pk}/sheet/"
    assert "Set-up list, once a stop" in as_owner_manager.get(sheet).content.decode()
    sent = {"no_stop_sign": "on", "minutes": 20, "set_up": ["power", "lead"]}
    sent |= {"areas-TOTAL_FORMS": 0, "areas-INITIAL_FORMS": 0}
    as_owner_manager.post(f"/visits/{booked.pk}/complete/", sent)
    assert StopList.objects.get().done == ["power", "lead"]
    html = as_owner_manager.get(f"/visits/{another.pk}/sheet/").content.decode()
    assert "Set-up list: 2 ticked at 10:00" in html
    assert "once a stop" not in html


def test_a_photo_is_kept_with_the_visit(booked, as_owner_manager, as_bookkeeper, private_folder):
    path = f"/visits/{booked.pk}/photo/"
    assert as_bookkeeper.get(path).status_code == 403
    html = as_owner_manager.post(
        path, {"photo": upload(photo(), "a.jpg", "image/jpeg"), "words": "Near hock"}, follow=True
    ).content.decode()
    assert "The photo is kept with the visit." in html
    assert "Near hock, " in html
    assert "may be shared was not asked" in html


def test_a_letter_is_no_photo(booked, as_owner_manager, private_folder):
    response = as_owner_manager.post(f"/visits/{booked.pk}/photo/", {"words": "x"})
    assert response.status_code == 422
