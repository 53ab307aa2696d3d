"""Everything as a ZIP for other programs: each table twice the same, each file, nothing secret, no formula."""

import csv
import io
import json
from decimal import Decimal
from zipfile import ZipFile

import pytest
from django.urls import reverse

from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from billing.journal.models import Posting
from clients.people.models import Person
from tests.factories.backoffice import UserFactory
from tests.factories.billing import issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def packed(business, as_owner_manager, owner_manager) -> ZipFile:
    UserFactory(password="md5$a secret of theirs")
    issued_invoice(PersonFactory(name="=HYPERLINK(1)", note="-3 paces\nand “more”"), owner_manager)
    answer = as_owner_manager.post(reverse("backoffice:take-along"))
    assert "everything-" in answer["Content-Disposition"]
    return ZipFile(io.BytesIO(b"".join(answer.streaming_content)))


def table(packed: ZipFile, label: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(packed.read(f"tables/{label}.csv").decode("utf-8-sig"), newline="")))


def test_each_table_is_there_twice_and_says_the_same(packed):
    for label, model in (("clients.Person", Person), ("billing.Posting", Posting)):
        assert (
            len(table(packed, label)) == len(json.loads(packed.read(f"tables/{label}.json"))) == model.objects.count()
        )
    (person,) = table(packed, "clients.Person")
    assert (person["name"], person["note"]) == ("'=HYPERLINK(1)", "'-3 paces\nand “more”")
    assert json.loads(packed.read("tables/clients.Person.json"))[0]["name"] == "=HYPERLINK(1)"
    assert sum(Decimal(row["amount"]) for row in table(packed, "billing.Posting")) == 0


def test_every_file_is_there_as_it_is(packed):
    for document in Document.objects.all():
        with document.file.open() as file:
            assert packed.read(f"files/{document.file.name}") == file.read()


def test_nothing_secret_is_in_it(packed):
    names = packed.namelist()
    assert not [name for name in names if "Passkey" in name or "RecoveryCode" in name or "CodeApp" in name]
    assert "encrypted_key" not in packed.read("tables/backoffice.SealKey.json").decode()
    everything = b"".join(packed.read(name) for name in names if name.startswith("tables/"))
    assert b"a secret of theirs" not in everything


def test_the_dictionary_names_each_column_and_where_it_leads(packed):
    told = list(csv.DictReader(io.StringIO(packed.read("dictionary.csv").decode("utf-8-sig"))))
    by_column = {(row["table"], row["column"]): row for row in told}
    assert by_column["billing.Invoice", "payer_id"]["refers to"] == "clients.Person"
    assert "draft: Draft" in by_column["billing.Invoice", "state"]["meaning"]
    assert by_column["billing.Invoice", ""]["meaning"].startswith("A payer")
    for name in packed.namelist():
        if name.endswith(".csv") and name.startswith("tables/"):
            label = name.removeprefix("tables/").removesuffix(".csv")
            heading = packed.read(name).decode("utf-8-sig").splitlines()[0].split(",")
            assert {(label, column) for column in heading} <= set(by_column)


def test_who_took_it_is_on_record_and_nobody_else_may(packed, as_assistant, as_bookkeeper, client):
    assert Entry.objects.filter(action="everything taken along").count() == 1
    for other in (as_assistant, as_bookkeeper):
        assert other.post(reverse("backoffice:take-along")).status_code == 403
    assert client.post(reverse("backoffice:take-along")).status_code == 302
