import json
import subprocess
from datetime import date
from io import BytesIO, StringIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command

from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.documents.uploads import checked
from backoffice.erasing.actions import erase_person, set_keep_rule
from backoffice.erasing.again import replay
from backoffice.erasing.collecting import verdicts_on
from backoffice.erasing.handing_over import hand_over
from backoffice.erasing.traces import RULE_OF_PAPER, traces_of
from backoffice.keeping.models import Erasure
from backoffice.refusal import Refused
from backoffice.upkeep.verification import look
from billing.invoices.models import Invoice
from billing.journal.models import Posting
from clients.animals.models import Animal, HealthFact
from clients.incidents.actions import add_to_incident, write_incident
from clients.incidents.models import Incident
from clients.paperwork.models import Decision, Form, Signature
from clients.paperwork.on_paper import sign_on_paper
from clients.people.models import Person, PersonKey
from clients.visits.models import Visit
from tests.backoffice.erasing.conftest import LATER, NAME, YEARS_LATER
from tests.factories.billing import AT
from tests.factories.clients import OwnershipFactory, PersonFactory, RoleFactory
from tests.factories.visits import VisitFactory
from tests.pdf_tools import needs_tool
from tests.uploads import photo

pytestmark = pytest.mark.django_db(transaction=True)


def erase(person, at, by):
    return erase_person(person=person, asked=Erasure.Asked.PERSON, at=at, by=by)


def faults() -> list[str]:
    return [fault for finding in look() for fault in finding.faults]


def test_what_no_rule_keeps_goes_and_the_rest_is_named_with_its_reason(person, owner_manager):
    erasure = erase(person, LATER, owner_manager)
    person.refresh_from_db()
    assert (person.name, person.phone, person.email, person.address, person.note) == (
        f"Erased person {person.pk}",
        "",
        "",
        "",
        "",
    )
    assert {line["kind"]: line["count"] for line in erasure.gone} == {"contact": 1, "letter": 1, "unsigned": 1}
    stays = {line["kind"]: line for line in erasure.stays}
    assert set(stays) == {"form", "horse", "health", "visit", "books"}
    assert stays["books"]["until"] == "2033-12-31"
    assert all(line["why"] for line in erasure.stays)
    assert Form.objects.count() == 1
    assert faults() == []


def test_when_the_years_are_over_all_words_go_and_the_accounts_stay_whole(person, owner_manager):
    amounts = list(Posting.objects.order_by("pk").values_list("account", "amount"))
    signed = Form.objects.get(state="signed").document
    erase(person, YEARS_LATER, owner_manager)
    assert list(traces_of(NAME)) == []
    assert list(Posting.objects.order_by("pk").values_list("account", "amount")) == amounts
    invoice = Invoice.objects.get()
    assert invoice.number == 1
    assert invoice.frozen["payer"] == {"name": "", "address": "", "country": "US"}
    assert not PersonKey.objects.exists()
    assert not HealthFact.objects.exists()
    assert Decision.objects.filter(facts={}).count() == Decision.objects.count()
    signed.refresh_from_db()
    assert (signed.erased_rule, signed.erased_at, signed.erased_by) == ("form", YEARS_LATER, owner_manager)
    assert len(signed.sha256) == 64
    assert not default_storage.exists(signed.file.name)
    with pytest.raises(Refused, match="erased by a rule"):
        bytes_of(signed)
    assert faults() == []


def test_an_incident_note_loses_its_words_and_papers_when_its_years_are_over_and_keeps_its_day(person, owner_manager):
    facts = {"what": f"{NAME} fell.", "present": NAME, "done": "Nothing.", "happened_at": AT}
    note = write_incident(
        incident=Incident(animal=Animal.objects.get(name="Biscuit"), **facts), at=AT, by=owner_manager
    )
    add_to_incident(incident=note, text=f"{NAME} is well.", at=AT, by=owner_manager)
    stays = {line["kind"] for line in erase(person, LATER, owner_manager).stays}
    assert "incident" in stays
    erase(person, YEARS_LATER, owner_manager)
    note.refresh_from_db()
    assert (note.what, note.present, note.happened_at) == ("", "", AT)
    assert all(paper.erased_rule == "incident" for paper in note.papers.all())
    assert list(traces_of(NAME)) == []
    assert faults() == []


def test_no_file_holds_the_name_in_its_metadata_and_the_certificate_not_at_all(person, owner_manager):
    erasure = erase(person, YEARS_LATER, owner_manager)
    left = [document for document in Document.objects.all() if document.erased_at is None]
    assert left == [erasure.certificate]
    assert erasure.certificate.is_sealed
    assert NAME.encode() not in bytes_of(erasure.certificate)


def test_each_trace_that_is_left_is_there_by_a_rule(person, owner_manager):
    erase(person, LATER, owner_manager)
    out = StringIO()
    call_command("erasures", traces=NAME, stdout=out)
    assert "clients.signature" in out.getvalue()
    assert "BY NO RULE" not in out.getvalue()


def test_a_trace_without_a_rule_ends_the_command_with_status_1(person):
    with pytest.raises(SystemExit, match="1"):
        call_command("erasures", traces=NAME, stdout=StringIO())


def test_the_trail_never_held_the_name_and_its_digests_are_keyed(person, owner_manager):
    assert NAME not in json.dumps(list(Entry.objects.values_list("changes", flat=True)))
    assert len(Entry.objects.get(action="form signed").changes["evidence"]) == 64


def test_a_signature_changed_by_hand_is_named(person):
    assert faults() == []
    Signature.objects.update(capacity="guardian")
    assert any("its signature is not the one" in fault for fault in faults())


def test_a_tombstone_with_its_file_still_there_is_named(person, owner_manager):
    document = Document.objects.filter(kind="invoice").first()
    Document.objects.filter(pk=document.pk).update(erased_at=LATER, erased_rule="books")
    assert any("is still there" in fault for fault in faults())


def test_erasing_waits_until_the_work_and_the_money_are_over(person, owner_manager):
    horse = person.ownerships.first().animal
    VisitFactory(booked=True, animal=horse, day=date(2026, 7, 1))
    RoleFactory(person=person)
    with pytest.raises(Refused, match="A visit is still open"):
        erase(person, LATER, owner_manager)
    assert not Erasure.objects.exists()


def test_an_open_invoice_stands_in_the_way(person, owner_manager):
    Invoice.objects.update(total="500.00")
    with pytest.raises(Refused, match="still open"):
        erase(person, LATER, owner_manager)


def test_nothing_left_to_erase_is_refused(person, owner_manager):
    erase(person, LATER, owner_manager)
    with pytest.raises(Refused, match="nothing to erase"):
        erase(person, LATER, owner_manager)


def test_a_shared_horse_keeps_its_record(person, owner_manager):
    horse = Animal.objects.get(name="Biscuit")
    OwnershipFactory(animal=horse, person=PersonFactory(name="Corin Ashlund"), since=date(2026, 5, 1))
    erase(person, YEARS_LATER, owner_manager)
    horse.refresh_from_db()
    assert horse.name == "Biscuit"
    assert HealthFact.objects.filter(animal=horse).exists()


def test_a_rule_of_the_practitioner_holds_from_its_day(person, owner_manager):
    set_keep_rule(kind="form", years=0, why="No rule here.", since=date(2026, 6, 1), at=LATER, by=owner_manager)
    before = {v.held.kind for v in verdicts_on(person, date(2026, 5, 31)) if not v.stays}
    after = {v.held.kind for v in verdicts_on(person, date(2026, 6, 1)) if not v.stays}
    assert after - before == {"form"}


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"why": " "}, "Write why"),
        ({"since": date(2026, 5, 1)}, "not from the past"),
        ({"kind": "nothing"}, "no such kind"),
    ],
)
def test_a_bad_rule_is_refused(owner_manager, changes, sentence):
    rule = {"kind": "form", "years": 3, "why": "The insurer", "since": date(2026, 6, 1)}
    with pytest.raises(Refused, match=sentence):
        set_keep_rule(**{**rule, **changes}, at=LATER, by=owner_manager)


def test_after_a_restore_the_erasure_is_missed_and_replayed(person, owner_manager, settings):
    erase(person, LATER, owner_manager)
    assert NAME not in Path(settings.ERASURES_FILE).read_text()
    Erasure.objects.all().delete()
    Person.objects.filter(pk=person.pk).update(name=NAME, erased_on=None)
    assert any("replay it" in fault for fault in faults())
    assert list(replay()) == [f"Person {person.pk}: erased again."]
    person.refresh_from_db()
    assert person.name == f"Erased person {person.pk}"
    assert not any("replay it" in fault for fault in faults())
    assert list(replay()) == []


def test_what_is_handed_over_holds_the_records_and_the_papers(person, owner_manager):
    other = PersonFactory(name="Corin Ashlund")
    shared = OwnershipFactory(animal__name="Rook", person=person)
    OwnershipFactory(animal=shared.animal, person=other)
    file = ZipFile(BytesIO(hand_over(person=person, at=LATER, by=owner_manager)))
    told = json.loads(file.read("data.json"))
    assert told["person"] == NAME
    kinds = {record["kind"] for record in told["records"]}
    assert {"Name and how to reach them", "Signed forms and how they were signed"} <= kinds
    assert any(name.endswith("-form.pdf") for name in file.namelist())
    assert any(name.endswith("-invoice.pdf") for name in file.namelist())
    assert "Corin Ashlund" not in file.read("data.json").decode()
    assert "What Holt-Adair" in file.read("index.txt").decode()


def test_erasing_undone_by_a_failure_leaves_the_files(person, owner_manager, monkeypatch):
    monkeypatch.setattr("backoffice.erasing.actions._certificate", lambda *args, **kwargs: 1 / 0)
    names = [document.file.name for document in Document.objects.all()]
    with pytest.raises(ZeroDivisionError):
        erase(person, YEARS_LATER, owner_manager)
    assert all(default_storage.exists(name) for name in names)
    assert Visit.objects.exclude(note="").exists()


@needs_tool("pdftotext")
@pytest.mark.drawn
def test_each_file_that_still_holds_the_name_is_kept_by_a_rule(person, owner_manager):
    erase(person, LATER, owner_manager)
    holding = set()
    for document in Document.objects.filter(erased_at__isnull=True):
        text = subprocess.run(["pdftotext", document.file.path, "-"], capture_output=True, text=True, check=True).stdout
        if NAME in " ".join(text.split()):
            holding.add(document.kind)
    assert holding == {"form", "invoice", "receipt"}
    assert holding <= set(RULE_OF_PAPER)


def test_the_scan_of_a_paper_form_goes_with_the_form_and_each_file_leaves_a_tombstone(person, owner_manager):
    form = Form.objects.get(signer=person, state=Form.State.TO_SIGN)
    facts = {"name_typed": NAME, "capacity": "owner", "signed_on": AT.date(), "scan": [checked(photo())]}
    signed = sign_on_paper(form=form, **facts, at=AT, by=owner_manager)
    erase(person, YEARS_LATER, owner_manager)
    papers = [Document.objects.get(pk=signed.document_id), signed.scans.get()]
    assert [paper.erased_rule for paper in papers] == ["form", "form"]
    assert faults() == []
