"""What was taken along becomes a business of its own elsewhere: the same counts, balances, files and seals."""

import io
import json
from collections import Counter
from decimal import Decimal
from zipfile import ZipFile

import pytest
from django.core.management import CommandError, call_command

from backoffice.access.models import User
from backoffice.audit.queries import breaks_in_chain
from backoffice.documents.keys import current_key
from backoffice.documents.models import Document, SealKey
from backoffice.documents.verification import faults_of_files
from backoffice.refusal import Refused
from backoffice.upkeep import rows
from backoffice.upkeep.bringing_back import bring_back
from backoffice.upkeep.taking_along import LEFT_OUT, write_all
from billing.journal.models import Posting
from clients.paperwork.verification import faults_of_signatures
from tests.factories.billing import issued_invoice
from tests.factories.clients import FormFactory, PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


def balances() -> Counter:
    found: Counter = Counter()
    for account, amount in Posting.objects.values_list("account", "amount"):
        found[account] += amount
    return found


def counts() -> dict[str, int]:
    return {m._meta.label: m._base_manager.count() for m in rows.tables() if m._meta.label not in LEFT_OUT}


@pytest.fixture
def taken(business, owner_manager, now, tmp_path_factory):
    """A business with an issued invoice and a signed form, as a ZIP; the place is empty again."""
    issued_invoice(PersonFactory(name="Désirée"), owner_manager)
    FormFactory(signed=True)
    path = tmp_path_factory.mktemp("along") / "everything.zip"
    with path.open("wb") as stream:
        write_all(stream, at=now)
    before = counts(), balances(), list(Document.objects.values_list("file", "sha256"))
    rows.empty_all()
    return path, before


def emptied(private_folder) -> None:
    for file in private_folder.rglob("*"):
        if file.is_file():
            file.unlink()


def test_the_same_counts_balances_and_files(taken, private_folder, now):
    path, before = taken
    emptied(private_folder)
    bring_back(path, at=now)
    assert (counts(), balances(), list(Document.objects.values_list("file", "sha256"))) == before
    assert balances()["receivable"] == Decimal("95.00")
    assert list(faults_of_files()) == []
    assert list(faults_of_signatures()) == []
    assert list(breaks_in_chain()) == []


def test_no_password_and_no_old_key_opens_anything(taken, private_folder, now):
    path, _ = taken
    emptied(private_folder)
    old = len(json.loads(ZipFile(path).read("tables/backoffice.SealKey.json")))
    bring_back(path, at=now)
    assert not any(user.has_usable_password() for user in User.objects.all())
    new = current_key(at=now)
    assert new.encrypted_key
    assert SealKey.objects.count() == old + 1


def test_into_a_place_where_somebody_works_nothing_comes(taken, owner_manager_again, now):
    with pytest.raises(Refused, match="empty place only"):
        bring_back(taken[0], at=now)


@pytest.fixture
def owner_manager_again(taken):
    return User.objects.create(username="somebody")


def damaged(path, tmp_path, change):
    out = tmp_path / "damaged.zip"
    with ZipFile(path) as old, ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out


@pytest.mark.parametrize(
    "change",
    [
        lambda name, held: held[:-3] if name.endswith("Person.json") else held,
        lambda name, held: b"other" if name.startswith("files/") else held,
        lambda name, held: held.replace(b'"note"', b'"nota"') if name.endswith("Person.json") else held,
    ],
    ids=["cut off", "another file", "another version"],
)
def test_a_damaged_one_leaves_nothing(taken, private_folder, tmp_path_factory, now, change):
    emptied(private_folder)
    wrong = damaged(taken[0], tmp_path_factory.mktemp("wrong"), change)
    with pytest.raises(Refused):
        bring_back(wrong, at=now)
    assert not User.objects.exists()
    assert not [file for file in private_folder.rglob("*") if file.is_file()]


def test_the_command_takes_both_kinds(taken, private_folder, tmp_path_factory):
    emptied(private_folder)
    said = io.StringIO()
    call_command("restore", taken[0], stdout=said)
    assert "Nobody has a password here yet" in said.getvalue()
    other = tmp_path_factory.mktemp("x") / "x.zip"
    with ZipFile(other, "w") as packed:
        packed.writestr("x", "y")
    rows.empty_all()
    with pytest.raises(CommandError, match="nothing that was taken along"):
        call_command("restore", other)
