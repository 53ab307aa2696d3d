import io
import zipfile
from datetime import date

import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.models import Entry
from backoffice.documents.actions import erase_document, store_document
from backoffice.documents.models import Document
from backoffice.home.papers import papers_for
from clients.incidents.actions import write_incident
from clients.incidents.models import Incident
from tests.factories.clients import FormFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import VisitFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder", "business")]
Kind = Document.Kind
DAY = date(2026, 3, 2)


@pytest.fixture
def store(now):
    def store_it(kind=Kind.FORM, title="Consent, Biscuit", at=now) -> Document:
        return store_document(kind=kind, title=title, content=b"%PDF-" + title.encode(), at=at, by=None)

    return store_it


@pytest.fixture
def one_of_each(store):
    return {kind: store(kind, f"Paper {kind}") for kind in Kind}


def kinds_seen_by(user):
    return {paper.kind for paper in papers_for(user, DAY)}


def test_each_role_sees_the_kinds_it_may_read(one_of_each, owner_manager, assistant, bookkeeper):
    assert kinds_seen_by(owner_manager) == set(Kind)
    for user in (assistant, bookkeeper):
        assert kinds_seen_by(user) == {kind for kind in Kind if user.may(Document.POWER_TO_READ[kind])}
    assert Kind.REFERRAL not in kinds_seen_by(bookkeeper)
    assert Kind.ERASURE not in kinds_seen_by(assistant)


@pytest.mark.parametrize("count", [1, 30])
def test_the_shelf_takes_the_same_number_of_queries_for_one_row_and_for_thirty(
    count, store, as_owner_manager, django_assert_num_queries
):
    for _ in range(count):
        store()
    as_owner_manager.get("/papers/")
    with django_assert_num_queries(QUERIES):
        as_owner_manager.get("/papers/")


QUERIES = 5


def test_paper_is_found_by_title_person_horse_kind_and_day(store, as_owner_manager, now):
    horse = ready_animal(name="Biscuit")
    form = FormFactory(animal=horse, signer=horse.ownerships.get().person, document=store(title="Photo permission"))
    store(Kind.INVOICE, "Invoice 2026-0001", at=now.replace(year=2025))

    def found(**asked):
        return {paper.title for paper in as_owner_manager.get("/papers/", asked).context["table"].data}

    assert found(q="Biscuit") == found(q=form.signer.name) == found(q="permission") == {"Photo permission"}
    assert found(kind="invoice") == found(until="2025-12-31") == {"Invoice 2026-0001"}
    assert found(since="2026-03-02") == {"Photo permission"}
    assert found(since="absurd", until="\x00", kind="x", q="x" * 5000) is not None


def test_a_form_is_found_by_its_state_and_other_paper_by_horse_and_barn(store, as_owner_manager, now, owner_manager):
    horse = ready_animal(name="Biscuit", barn__name="Copper Hasp Stables")
    FormFactory(animal=horse, document=store(title="In force"), signed=True)
    FormFactory(animal=horse, document=store(title="Over"), signed=True, valid_until=date(2026, 3, 1))
    VisitFactory(animal=horse, barn=horse.barn, report=store(Kind.VISIT_REPORT, "Report"))
    facts = {"what": "A kick.", "present": "Nobody.", "done": "Nothing.", "happened_at": now}
    write_incident(incident=Incident(barn=horse.barn, **facts), at=now, by=owner_manager)
    horse.photo = store(Kind.PHOTO, "Photo")
    horse.save()

    def found(**asked):
        with time_machine.travel(now, tick=False):
            return {paper.title for paper in as_owner_manager.get("/papers/", asked).context["table"].data}

    assert found(form_state="signed") == {"In force"}
    assert found(form_state="lapsed") == {"Over"}
    assert found(q="Copper Hasp") == {"Report", "Incident note, Copper Hasp Stables"}
    assert found(q="Biscuit") == {"In force", "Over", "Report", "Photo"}


def test_the_ticked_ones_come_as_one_zip_with_safe_names_and_an_index(store, as_owner_manager):
    first, second = store(title="../../Consent: Ottilie\\Brackwater"), store(Kind.INVOICE, "ليلى")
    store(title="Not ticked")
    answer = as_owner_manager.post("/papers/zip/", {"paper": [first.pk, second.pk]})
    folder = zipfile.ZipFile(io.BytesIO(answer.content))
    assert sorted(folder.namelist()) == ["001-invoice.pdf", "002-consent-ottiliebrackwater.pdf", "index.txt"]
    index = folder.read("index.txt").decode()
    assert f"SHA-256 {first.sha256}" in index
    assert "Invoice of 2026-03-02" in index
    entry = Entry.objects.get(action="papers taken")
    assert entry.changes["papers"] == [second.pk, first.pk]


def test_a_zip_holds_nothing_that_may_not_be_read_and_nothing_erased(store, as_bookkeeper, now):
    health, gone = store(Kind.REFERRAL, "Vet's answer"), store(title="Gone")
    erase_document(document=gone, rule="form", at=now, by=None)
    answer = as_bookkeeper.post("/papers/zip/", {"paper": [health.pk, gone.pk]})
    assert zipfile.ZipFile(io.BytesIO(answer.content)).namelist() == ["index.txt"]


@pytest.mark.parametrize("ticked", [[], ["x"], ["9" * 40], ["-1"], list(range(200))])
def test_nothing_or_nonsense_ticked_is_told_in_a_sentence(ticked, as_owner_manager):
    answer = as_owner_manager.post(reverse("backoffice:papers-zip"), {"paper": ticked}, follow=True)
    assert "Tick the papers to take first" in answer.content.decode()


def test_a_stranger_is_sent_to_the_sign_in(client):
    assert client.get("/papers/").status_code == client.post("/papers/zip/").status_code == 302


def test_an_empty_shelf_says_what_comes_here(as_owner_manager):
    assert "kept here as they are made" in as_owner_manager.get("/papers/").content.decode()
