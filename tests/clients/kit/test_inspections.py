"""What keeps a machine in: inspections by kind, faults, and a hirer who is late."""

from datetime import date, time, timedelta
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from backoffice.refusal import Refused
from clients.kit.actions import note_inspection, put_fault_right, report_fault
from clients.kit.models import Fault, Inspection
from clients.kit.queries import hire_calendar, machines, why_machine_is_not_free
from clients.visits.actions import book_visit, hire_out
from clients.visits.models import Visit
from tests.factories.clients import MachineFactory, PersonFactory
from tests.factories.kit import HireFactory
from tests.factories.visits import MONDAY, ready_visit

pytestmark = pytest.mark.django_db
MACHINE_QUERIES = 11
SUNDAY, TUESDAY = MONDAY - timedelta(days=1), MONDAY + timedelta(days=1)


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def machine():
    return MachineFactory(name="Field unit one", inspection_due=None)


def inspected(machine, by, now, *, kind="maker", done=SUNDAY, due=date(2027, 3, 1)) -> Inspection:
    inspection = Inspection(machine=machine, kind=kind, done_on=done, due_on=due, done_by="Prairie Works (invented)")
    return note_inspection(inspection=inspection, at=now, by=by)


def book(visit, now):
    return book_visit(visit=visit, starts=time(9), at=now, by=None)


# Inspections


def test_the_next_inspection_is_the_earliest_that_any_kind_asks_for(machine, owner_manager, now):
    inspected(machine, owner_manager, now)
    inspected(machine, owner_manager, now, kind="cable", due=date(2026, 9, 1))
    machine.refresh_from_db()
    assert machine.inspection_due == date(2026, 9, 1)
    inspected(machine, owner_manager, now, kind="cable", done=MONDAY, due=date(2027, 9, 1))
    machine.refresh_from_db()
    assert machine.inspection_due == date(2027, 3, 1)


def test_an_overdue_kind_keeps_the_machine_in(machine, owner_manager, now):
    inspected(machine, owner_manager, now)
    inspected(machine, owner_manager, now, kind="protector", done=date(2025, 1, 1), due=SUNDAY)
    with pytest.raises(Refused, match="The inspection of Field unit one was due on Sun 1 Mar 2026"):
        book(ready_visit(machine=machine), now)


def test_an_inspection_that_cannot_be_is_refused(machine, owner_manager, now):
    with pytest.raises(Refused, match="when it is done"):
        inspected(machine, owner_manager, now, done=TUESDAY)
    with pytest.raises(Refused, match="due after this one"):
        inspected(machine, owner_manager, now, due=SUNDAY)


# Faults


def test_a_machine_with_a_fault_is_neither_booked_nor_hired_out_until_it_is_put_right(
    machine, assistant, owner_manager, now
):
    fault = report_fault(machine=machine, seen="The lead is cut.", takes_out_of_use=True, at=now, by=assistant)
    visit = ready_visit(machine=machine)
    with pytest.raises(Refused, match="out of use until this is put right: The lead is cut"):
        book(visit, now)
    with pytest.raises(Refused, match="The lead is cut"):
        hire_out(machine=machine, person=PersonFactory(), since=MONDAY, until=TUESDAY, at=now, by=None)
    put_fault_right(fault=fault, how="New lead by Prairie Works (invented)", at=now, by=owner_manager)
    assert book(visit, now).status == Visit.Status.BOOKED


def test_a_small_fault_is_written_down_and_keeps_nothing_in(machine, assistant, now):
    report_fault(machine=machine, seen="Scratched case", takes_out_of_use=False, at=now, by=assistant)
    assert book(ready_visit(machine=machine), now).status == Visit.Status.BOOKED


def test_who_may_and_what_is_asked_for(machine, assistant, owner_manager, now):
    with pytest.raises(Refused, match="Write what is wrong"):
        report_fault(machine=machine, seen=" ", takes_out_of_use=True, at=now, by=assistant)
    fault = report_fault(machine=machine, seen="Hums", takes_out_of_use=True, at=now, by=assistant)
    with pytest.raises(Refused, match="Only the owner-manager"):
        put_fault_right(fault=fault, how="Looked fine", at=now, by=assistant)
    with pytest.raises(Refused, match="how it was put right"):
        put_fault_right(fault=fault, how=" ", at=now, by=owner_manager)
    put_fault_right(fault=fault, how="Fan cleaned", at=now, by=owner_manager)
    with pytest.raises(Refused, match="put right already"):
        put_fault_right(fault=fault, how="Again", at=now, by=owner_manager)


# Late


def test_a_machine_that_is_late_is_not_counted_on_until_it_is_back(machine, now):
    hire = HireFactory(machine=machine, since=date(2026, 2, 1), until=SUNDAY)
    visit = ready_visit(machine=machine, day=TUESDAY)
    with pytest.raises(Refused, match=f"was due back from {hire.person} on Sun 1 Mar 2026 and is not back yet"):
        book(visit, now)
    hire.returned_on = MONDAY
    hire.save()
    assert book(visit, now).status == Visit.Status.BOOKED


def test_due_back_today_is_not_late(machine):
    HireFactory(machine=machine, since=date(2026, 2, 1), until=MONDAY)
    found = machines().get(pk=machine.pk)
    assert "is on hire" in why_machine_is_not_free(found, MONDAY, today=MONDAY)
    assert why_machine_is_not_free(found, TUESDAY, today=MONDAY) == ""


def test_the_calendar_names_the_hirer_late_days_too_and_what_keeps_it_in(machine):
    hire = HireFactory(machine=machine, since=date(2026, 2, 26), until=date(2026, 2, 27))
    (found, days) = hire_calendar(date(2026, 2, 25), TUESDAY, today=MONDAY)[0]
    assert found == machine
    assert [day.hire for day in days] == [None, hire, hire, hire, hire, hire, None]


# The pages


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return unescape(response.content.decode())


def test_the_whole_way_of_a_fault(as_assistant, as_owner_manager, machine):
    as_assistant.post(f"/machines/{machine.pk}/fault/", {"seen": "The plug is loose", "takes_out_of_use": "on"})
    text = page(as_assistant, f"/machines/{machine.pk}/")
    assert "It cannot be booked today." in text
    assert "Put right" not in text
    path = f"/machines/faults/{Fault.objects.get().pk}/put-right/"
    assert as_assistant.post(path, {"how": "x"}).status_code == 403
    as_owner_manager.post(path, {"how": "New plug"})
    assert "New plug" in page(as_owner_manager, f"/machines/{machine.pk}/")


def test_an_inspection_from_the_page(as_assistant, machine):
    path = f"/machines/{machine.pk}/inspected/"
    good = {"kind": "maker", "done_on": "2026-03-01", "due_on": "2027-03-01", "done_by": "Prairie Works (invented)"}
    assert as_assistant.post(path, good | {"due_on": "2026-03-01"}).status_code == 422
    assert as_assistant.post(path, good | {"done_on": "2026-03-05"}).status_code == 422
    as_assistant.post(path, good)
    assert "due Mon 1 Mar 2027" in page(as_assistant, f"/machines/{machine.pk}/")


@pytest.mark.parametrize("month", ["", "2026-02", "nonsense", "1700-01"])
def test_the_hire_calendar_shows_a_month(as_bookkeeper, machine, month):
    hire = HireFactory(machine=machine, since=date(2026, 2, 26), until=date(2026, 2, 27))
    text = page(as_bookkeeper, f"/machines/calendar/?month={month}")
    assert f"{hire.person}, late" in text


def test_without_a_machine_the_calendar_says_what_to_do(as_owner_manager):
    assert "No machine in use" in page(as_owner_manager, "/machines/calendar/")


def test_a_bookkeeper_reports_nothing_and_a_stranger_signs_in(client, as_bookkeeper, machine):
    for way in ("fault", "inspected"):
        assert as_bookkeeper.post(f"/machines/{machine.pk}/{way}/").status_code == 403
        assert client.post(f"/machines/{machine.pk}/{way}/").status_code == 302


@pytest.mark.parametrize("rows", [1, 20])
def test_the_page_takes_the_same_queries_however_long_its_history(as_owner_manager, owner_manager, machine, rows, now):
    for number in range(rows):
        inspected(machine, owner_manager, now, done=SUNDAY - timedelta(days=number))
        report_fault(machine=machine, seen="Hums", takes_out_of_use=False, at=now, by=owner_manager)
        HireFactory(machine=machine, since=SUNDAY, until=SUNDAY, returned_on=SUNDAY)
    with CaptureQueriesContext(connection) as queries:
        page(as_owner_manager, f"/machines/{machine.pk}/")
    assert len(queries) == MACHINE_QUERIES
