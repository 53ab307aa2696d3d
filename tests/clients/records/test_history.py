import json
import subprocess
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from clients.animals.measuring import take_measure
from clients.animals.models import Measure
from clients.incidents.actions import add_to_incident, write_incident
from clients.incidents.models import Incident
from clients.paperwork.actions import open_stop_note
from clients.paperwork.models import Decision
from clients.records.actions import make_history, zip_of
from clients.records.history import history_of
from clients.records.models import HistoryFile
from clients.records.telling import without_names
from clients.visits.models import Session, Visit
from tests.conftest import NOW
from tests.factories.clients import CautionFactory, HealthFactFactory, OwnershipFactory, PersonFactory, RoleFactory
from tests.factories.paperwork import ready_animal, referral_for
from tests.factories.visits import VisitFactory
from tests.pdf_tools import needs_tool

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
OWNER, OTHER, AGENT = "Ottilie Quill Brackwater", "Corin Ashlund", "Tamsin Vell"


@pytest.fixture
def horse(owner_manager):
    horse = ready_animal(name="Biscuit")
    owner = horse.ownerships.get().person
    owner.name = OWNER
    owner.save()
    RoleFactory(animal=horse, person=PersonFactory(name=AGENT))
    CautionFactory(animal=horse, said_by=OWNER)
    tape = (Decimal(185), Decimal(165))
    take_measure(
        animal=horse, kind=Measure.Kind.TAPE, value=tape, on=date(2026, 3, 2), given_by=OWNER, at=NOW, by=owner_manager
    )
    HealthFactFactory(animal=horse, kind="in_foal", note=f"{AGENT} says so")
    referral_for(horse, asked="May Biscuit have sessions?", vet_name="Dr. Ada Lindqvist")
    open_stop_note(animal=horse, seen="Hot feet", at=NOW, by=owner_manager)
    visit = VisitFactory(completed=True, animal=horse, day=date(2026, 2, 27), note=f"{OWNER.upper()} held the horse")
    Session.objects.create(visit=visit, service=visit.service, minutes=60, reaction="yawned")
    Decision.objects.create(
        animal=horse,
        door=Decision.Door.BOOKING,
        for_day=date(2026, 2, 27),
        result=Decision.Result.ASK,
        reasons=[
            {"code": "consent_ends", "result": "ask", "sentence": f"The consent that {OWNER} signed ends soon."},
            {"code": "over_cap", "result": "ask", "sentence": f"{AGENT} may order up to USD 300.00 a month."},
        ],
        facts={"owners": [{"name": OWNER}], "payers": [{"name": OTHER}]},
        override_reason=f"{OTHER} telephoned",
        decided_at=NOW,
    )
    return horse


def made(horse, by, **options):
    return make_history(animal=horse, reader="vet", at=NOW, by=by, **options)


@needs_tool("pdftotext")
@pytest.mark.drawn
def test_the_pdf_says_what_was_done_and_nobody_around_the_horse_and_no_price(horse, owner_manager, tmp_path):
    file, _told = made(horse, owner_manager)
    path = tmp_path / "history.pdf"
    path.write_bytes(bytes_of(file.document))
    text = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout
    for wanted in ("Biscuit", "yawned", "Hot feet", "Dr. Ada Lindqvist", "Consent to sessions", "foal", "an owner"):
        assert wanted in text
    for hidden in (OWNER, OTHER, AGENT, OWNER.upper(), "300.00", "USD", "$"):
        assert hidden not in text


def test_json_and_index_name_nobody_around_the_horse_and_no_price(horse, owner_manager):
    archive = ZipFile(BytesIO(zip_of(*made(horse, owner_manager))))
    assert sorted(archive.namelist()) == ["history.json", "history.pdf", "index.txt"]
    told = archive.read("history.json").decode()
    for hidden in (OWNER, OTHER, AGENT, OWNER.upper(), "300.00", "USD", "price", "amount"):
        assert hidden not in told
    assert json.loads(told)["decisions"][0]["went_on_because"] == "who pays telephoned"
    index = archive.read("index.txt").decode()
    assert "1 visits, each with its sessions" in index
    assert "1 measures, each on its named scale" in index
    assert (
        json.loads(told)["measures"][0] | {"girth_cm": "185.0", "from": "an owner"} == json.loads(told)["measures"][0]
    )
    assert "It holds no price" in index


def test_it_is_sealed_and_in_the_trail(horse, owner_manager):
    file, _told = made(horse, owner_manager)
    assert file.document.is_sealed
    entry = Entry.objects.get(action="history file made")
    assert entry.changes["sha256"] == file.document.sha256


def test_the_days_of_an_earlier_owner_go_along_only_with_their_yes(horse, owner_manager):
    horse.ownerships.update(until=date(2026, 2, 28))
    OwnershipFactory(animal=horse, person=PersonFactory(name=OTHER), since=date(2026, 3, 1))
    assert made(horse, owner_manager)[1]["visits"] == []
    assert len(made(horse, owner_manager, with_earlier=True)[1]["visits"]) == 1


def test_an_incident_is_told_without_naming_who_stood_around_the_horse(horse, owner_manager):
    facts = {"what": f"{OWNER} slipped.", "present": f"{OWNER}, {AGENT}", "done": "Nothing more.", "happened_at": NOW}
    note = write_incident(incident=Incident(animal=horse, **facts), at=NOW, by=owner_manager)
    add_to_incident(incident=note, text=f"{AGENT} called: all well.", at=NOW, by=owner_manager)
    _, told = made(horse, owner_manager)
    assert told["incidents"][0]["what"] == "an owner slipped."
    assert told["incidents"][0]["added"][0]["text"] == "who acts for the owner called: all well."


def test_visits_to_come_are_no_history(horse, owner_manager):
    VisitFactory(animal=horse, day=NOW.date() + timedelta(days=9))
    assert Visit.objects.filter(animal=horse).count() == 2
    assert len(made(horse, owner_manager)[1]["visits"]) == 1


def test_names_are_replaced_everywhere_the_longest_first():
    told = {"a": ["Ann Lee Hart and Ann Lee"], "b": {"c": "ANN LEE"}, "d": 3}
    names = {"Ann Lee": "an owner", "Ann Lee Hart": "who pays"}
    assert without_names(told, names) == {"a": ["who pays and an owner"], "b": {"c": "an owner"}, "d": 3}


@time_machine.travel(datetime(2026, 3, 2, 17, tzinfo=UTC), tick=False)
def test_from_the_horses_page_as_pdf_or_zip(horse, as_assistant):
    address = reverse("clients:animal-history", args=[horse.pk])
    assert address in as_assistant.get(horse.get_absolute_url()).content.decode()
    assert as_assistant.post(address, {"shape": "pdf"}).status_code == 422
    answer = as_assistant.post(address, {"reader": "owner", "shape": "pdf"})
    document = Document.objects.get(kind=Document.Kind.HISTORY)
    assert answer["Location"] == reverse("backoffice:document", args=[document.pk])
    answer = as_assistant.post(address, {"reader": "owner", "shape": "zip"})
    assert answer["Content-Type"] == "application/zip"


def test_who_may_not_see_health_neither_sees_the_link_nor_comes_in(horse, as_bookkeeper):
    address = reverse("clients:animal-history", args=[horse.pk])
    assert address not in as_bookkeeper.get(horse.get_absolute_url()).content.decode()
    assert as_bookkeeper.get(address).status_code == 403


@pytest.mark.parametrize("rows", [1, 30])
def test_history_files_made_before_take_the_same_queries_whatever_their_number(
    horse, owner_manager, as_owner_manager, rows, django_assert_num_queries
):
    file, _told = made(horse, owner_manager)
    for _ in range(rows - 1):
        HistoryFile.objects.create(animal=horse, reader="vet", made_at=NOW, document=file.document)
    address = reverse("clients:animal-history", args=[horse.pk])
    as_owner_manager.get(address)
    with django_assert_num_queries(7):
        as_owner_manager.get(address)


@pytest.mark.parametrize("rows", [1, 30])
def test_a_history_reads_visits_in_a_constant_number_of_queries(horse, rows, django_assert_num_queries):
    for number in range(rows):
        visit = VisitFactory(completed=True, animal=horse, day=NOW.date() - timedelta(days=number))
        Session.objects.create(visit=visit, service=visit.service, minutes=60)
    with django_assert_num_queries(20):
        history_of(horse, since=None, on=NOW.date())
