"""A machine goes out with every line ticked and a signature, comes back with what is missing, and is promised once."""

import json
from datetime import date, timedelta
from decimal import Decimal
from html import unescape
from io import BytesIO

import pytest
import time_machine
from pypdf import PdfReader

from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from clients.kit.actions import note_hours, take_back
from clients.kit.handing_over import TOLD, hand_over, lines_for
from clients.kit.models import Handover, Hire, HourReading, Machine
from clients.people.models import Person
from clients.records.about_person import held_about
from clients.visits.actions import book_visit, hire_out
from clients.visits.models import Visit
from tests.at_once import at_once
from tests.factories.backoffice import BusinessFactory, UserFactory
from tests.factories.clients import ApplicatorFactory, MachineFactory, PersonFactory
from tests.factories.kit import HireFactory
from tests.factories.visits import MONDAY, ready_visit

STROKES = [[[100, 100], [400, 300], [800, 100]]]


@pytest.fixture
def hire(db) -> Hire:
    hire = HireFactory(machine__name="Old blue", machine__serial_number="PX-7", person__name="Marnie Quillfeather")
    hire.machine.applicators.add(ApplicatorFactory(name="Wide loop"))
    return hire


def signed(hire, now, by, **changes):
    given = {"ticked": lines_for(hire.machine), "name_typed": "Marnie  Quillfeather", "strokes": STROKES}
    return hand_over(hire=hire, **{**given, **changes}, at=now, by=by)


def test_the_lines_name_the_machine_and_each_applicator_in_use(hire):
    hire.machine.applicators.add(ApplicatorFactory(name="Worn pad", is_in_use=False))
    lines = lines_for(hire.machine)
    assert lines[:2] == [
        "I have Old blue, serial number PX-7, with its lead and case, looked over together.",
        "I have its applicator: Wide loop.",
    ]
    assert tuple(lines[2:]) == TOLD


@pytest.mark.drawn
def test_the_sheet_is_sealed_with_all_of_it(hire, now, owner_manager, private_folder):
    handover = signed(hire, now, owner_manager, hours=Decimal("412.5"))
    assert handover.document.is_sealed
    text = " ".join(
        " ".join(page.extract_text() for page in PdfReader(BytesIO(bytes_of(handover.document))).pages).split()
    )
    for words in ("Old blue", "Wide loop", "Marnie Quillfeather", "412.5", "pregnant", "does not take the place"):
        assert words in text
    assert HourReading.objects.get().hours == Decimal("412.5")


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"ticked": TOLD}, "Every line is ticked"),
        ({"name_typed": "  "}, "name is missing"),
        ({"strokes": []}, "signature is missing"),
        ({"strokes": [[[5, 5]]]}, "only a dot"),
    ],
)
def test_what_is_not_whole_is_refused(hire, now, owner_manager, changes, sentence):
    with pytest.raises(Refused, match=sentence):
        signed(hire, now, owner_manager, **changes)
    assert not Handover.objects.exists()


@pytest.mark.parametrize(
    ("machine", "sentence"),
    [
        ({"inspection_due": date(2026, 3, 1)}, "The inspection of Old blue was due"),
        ({"is_in_use": False}, "out of use"),
    ],
)
def test_an_unfit_machine_stays_in(hire, now, owner_manager, machine, sentence):
    Machine.objects.filter(pk=hire.machine_id).update(**machine)
    with pytest.raises(Refused, match=sentence):
        signed(hire, now, owner_manager)


def test_what_is_back_goes_out_no_more(hire, now, owner_manager):
    take_back(hire=hire, on=hire.until, at=now, by=owner_manager)
    with pytest.raises(Refused, match="is back already"):
        signed(hire, now, owner_manager)


def test_it_is_signed_once(hire, now, owner_manager, private_folder):
    signed(hire, now, owner_manager)
    with pytest.raises(Refused, match="signed already"):
        signed(hire, now, owner_manager)


def test_an_hour_meter_only_goes_up(hire, now, owner_manager):
    note_hours(machine=hire.machine, hours=Decimal(10), at=now, by=owner_manager)
    with pytest.raises(Refused, match="said 10.0 hours"):
        take_back(hire=hire, on=hire.until, hours=Decimal("9.9"), at=now, by=owner_manager)
    hire.refresh_from_db()
    assert hire.returned_on is None


def test_the_whole_way_by_the_pages(hire, as_assistant, now, private_folder):
    page = f"/machines/{hire.machine_id}/"
    path = f"/hires/{hire.pk}/handover/"
    with time_machine.travel(now, tick=False):
        assert path in as_assistant.get(page).content.decode()
        short = as_assistant.post(path, {"ticked": TOLD[:3], "name_typed": "M", "strokes": json.dumps(STROKES)})
        html = unescape(short.content.decode())
        assert f"Tick every line; {len(TOLD) - 1} still to read." in html
        assert "[[[100, 100]" in html
        given = {"ticked": lines_for(hire.machine), "name_typed": "Marnie Quillfeather", "hours": "20"}
        response = as_assistant.post(path, {**given, "strokes": json.dumps(STROKES)}, follow=True)
        assert response["Content-Type"] == "application/pdf"
        assert "handover sheet" in as_assistant.get(page).content.decode()
    with time_machine.travel(now + timedelta(days=40), tick=False):
        as_assistant.force_login(UserFactory(role="assistant"))
        back = {"on": "2026-04-08", "condition": "Case scratched", "missing": "Wide loop", "hours": "33.5"}
        html = as_assistant.post(f"/hires/{hire.pk}/back/", back, follow=True).content.decode()
    assert "3 days late" in html
    assert "Case scratched; missing: Wide loop" in html
    assert "33.5 on" in html


def test_only_the_owner_manager_puts_a_machine_out_of_use(as_assistant, as_owner_manager):
    machine = MachineFactory()
    path = f"/machines/{machine.pk}/edit/"
    assert 'name="is_in_use"' not in as_assistant.get(path).content.decode()
    as_assistant.post(path, {"name": "Grey box"})
    machine.refresh_from_db()
    assert (machine.name, machine.is_in_use) == ("Grey box", True)
    as_owner_manager.post(path, {"name": "Grey box"})
    machine.refresh_from_db()
    assert not machine.is_in_use


def test_an_erasure_empties_what_was_signed(hire, now, owner_manager, private_folder):
    handover = signed(hire, now, owner_manager)
    take_back(hire=hire, on=hire.until, condition="Marnie dropped it", at=now, by=owner_manager)
    (held,) = [each for each in held_about(Person.objects.get(pk=hire.person_id), MONDAY) if "Hire of" in each.words]
    assert held.documents == (handover.document,)
    held.empty()
    handover.refresh_from_db()
    hire.refresh_from_db()
    assert (handover.name_typed, handover.strokes, hire.condition_back) == ("", [], "")


# At once


@pytest.mark.django_db(transaction=True)
def test_two_hires_of_a_machine_at_once_are_one(now):
    BusinessFactory()
    machine, people = MachineFactory(), [PersonFactory(), PersonFactory()]
    span = {"since": MONDAY, "until": MONDAY + timedelta(days=6)}
    answers = at_once(
        [lambda person=person: hire_out(machine=machine, person=person, **span, at=now, by=None) for person in people]
    )
    assert sorted(type(answer) for answer in answers if isinstance(answer, Refused)) == [Refused]
    assert Hire.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_hire_and_a_visit_at_once_are_one(now):
    BusinessFactory()
    machine, person = MachineFactory(), PersonFactory()
    visit = ready_visit(machine=machine)
    answers = at_once(
        [
            lambda: hire_out(machine=machine, person=person, since=MONDAY, until=MONDAY, at=now, by=None),
            lambda: book_visit(visit=visit, starts=now.time(), at=now, by=None, outside_hours_reason="Asked for."),
        ]
    )
    assert len([answer for answer in answers if isinstance(answer, Refused)]) == 1
    assert Hire.objects.count() + Visit.objects.filter(status=Visit.Status.BOOKED).count() == 1
