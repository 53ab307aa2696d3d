"""A backup of everything, restored row by row into an empty place; what is damaged, foreign or locked is refused."""

import contextlib
import gzip
import hashlib
import io
import os
import subprocess
import sys
import tarfile
import time
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection

from backoffice.access.models import User
from backoffice.audit.models import Head
from backoffice.documents.models import Document
from backoffice.documents.verification import names_in
from backoffice.refusal import Refused
from backoffice.upkeep import rows
from backoffice.upkeep.backup import MANIFEST, backups_in, name_of, restore_backup, write_backup
from backoffice.upkeep.keeping_safe import back_up, drill, is_drill_due
from backoffice.upkeep.models import BackupNote
from billing.invoices.actions import draft_invoices, issue_invoice
from billing.invoices.by_hand import charge_by_hand
from billing.invoices.models import Charge
from billing.packages.sold import PackageSold
from tests.factories.billing import AT, DAY, owned_horse, priced_service
from tests.factories.clients import PersonFactory
from tests.factories.packages import sold_package

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
WORDS = "a long sentence for one backup"


@pytest.fixture
def house(business, owner_manager) -> User:
    """Money, paper, horses, a table between two others, and a day at its finest."""
    payer = PersonFactory(name="Désirée O’Malley 🐴")
    said = {"at": AT, "by": owner_manager}
    charge_by_hand(kind=Charge.Kind.OTHER, payer=payer, text="Halter", amount=Decimal("12.10"), on=DAY, **said)
    (draft,) = draft_invoices(**said)
    issue_invoice(invoice=draft, on=DAY, **said)
    horse = owned_horse(payer)
    sold_package(payer, priced_service("80.00", name="Spot"), owner_manager, animals=[horse])
    BackupNote.objects.create(kind="drill", at=datetime(2026, 3, 1, 1, 2, 3, 456789, UTC), is_good=True, words="ok")
    return owner_manager


def everything() -> dict[str, list[dict]]:
    return {model._meta.label: [row for chunk in rows.chunks_of(model) for row in chunk] for model in rows.tables()}


def files() -> dict[str, str]:
    found = {}
    for name in Document.objects.values_list("file", flat=True):
        with default_storage.open(name) as file:
            found[name] = hashlib.sha256(file.read()).hexdigest()
    return found


def emptied() -> None:
    for name in files():
        default_storage.delete(name)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL DEFERRED" if connection.vendor == "postgresql" else "SELECT 1")
    rows.empty_all()


@pytest.mark.parametrize("passphrase", ["", WORDS])
def test_every_row_and_file_comes_back_as_it_was(house, tmp_path, passphrase):
    before, kept = everything(), files()
    path = tmp_path / "one"
    held = write_backup(path, at=AT, passphrase=passphrase)
    assert (held.files, held.tables["billing.Invoice"]) == (len(kept), 1)
    assert list(tmp_path.glob(".*")) == []
    assert path.stat().st_mode & 0o777 == 0o600
    assert (b"O\xe2\x80\x99Malley" in path.read_bytes()) is False
    emptied()
    assert restore_backup(path, passphrase=passphrase) == held
    assert everything() == before
    assert files() == kept
    assert PackageSold.objects.get().animals.count() == 1
    assert PersonFactory().pk > max(row["id"] for row in before["clients.Person"])


def test_what_is_in_use_is_never_written_over(house, tmp_path):
    path = tmp_path / "one"
    write_backup(path, at=AT)
    with pytest.raises(Refused, match="into an empty place only"):
        restore_backup(path)
    with pytest.raises(CommandError, match="into an empty place only"):
        call_command("restore", path)
    with pytest.raises(CommandError, match="There is no file"):
        call_command("restore", tmp_path / "two")


def test_a_wrong_passphrase_none_and_a_changed_byte_open_nothing(house, tmp_path):
    path = tmp_path / "one"
    write_backup(path, at=AT, passphrase=WORDS)
    emptied()
    for passphrase, sentence in (("", "under a passphrase: give it"), ("another", "does not open this backup")):
        with pytest.raises(Refused, match=sentence):
            restore_backup(path, passphrase=passphrase)
    content = bytearray(path.read_bytes())
    content[3 * 512 + 600] ^= 1  # after the key, within the sealed content
    path.write_bytes(content)
    with pytest.raises(Refused, match="damaged|no whole backup"):
        restore_backup(path, passphrase=WORDS)
    assert not User.objects.exists()


def remade(path: Path, change) -> None:
    """The same backup with members changed: `change(name, content)` gives the new content, or None to leave it out."""
    out = io.BytesIO()
    with tarfile.open(path, "r:gz") as old, tarfile.open(fileobj=out, mode="w:gz") as new:
        for member in old:
            held = change(member.name, old.extractfile(member).read())
            if held is not None:
                member.size = len(held)
                new.addfile(member, io.BytesIO(held))
    path.write_bytes(out.getvalue())


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda name, held: None if name == MANIFEST else held, "cut off, or not one of ours"),
        (lambda name, held: None if "billing.Posting" in name else held, "does not hold what its list says"),
        (lambda name, held: held.replace(b'"under_age"', b'"height"'), "clients.Person has no height here"),
        (
            lambda name, held: b"%PDF-1.7" if name.startswith("files/") else held,
            "not the one that its document names",
        ),
        (lambda name, held: held[:-9] if "clients.Person/" in name else held, "does not hold what its list says"),
    ],
)
def test_what_does_not_fit_is_refused_and_leaves_nothing(house, tmp_path, change, sentence):
    path = tmp_path / "one"
    write_backup(path, at=AT)
    emptied()
    remade(path, change)
    with pytest.raises(Refused, match=sentence):
        restore_backup(path)
    assert not User.objects.exists()
    assert list(names_in(default_storage, "documents")) == []


@pytest.mark.parametrize("content", [b"", b"no tar at all", gzip.compress(b"x" * 2000, mtime=0)])
def test_what_is_no_backup_is_refused(tmp_path, content):
    path = tmp_path / "one"
    path.write_bytes(content)
    with pytest.raises(Refused, match="no whole backup"):
        restore_backup(path)


def test_the_last_good_one_stays_until_the_new_one_is_whole(house, tmp_path, monkeypatch):
    path = tmp_path / "one"
    write_backup(path, at=AT)
    good = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("backoffice.upkeep.backup._to_disk", full)
    with pytest.raises(OSError, match="No space left"):
        write_backup(path, at=AT)
    assert path.read_bytes() == good
    assert list(tmp_path.iterdir()) == [path, *tmp_path.glob("documents")]


def test_by_setting_one_a_night_and_the_oldest_go(house, tmp_path, settings):
    settings.BACKUP_DIR, settings.BACKUP_KEEP = str(tmp_path / "safe"), 2
    for day in range(3):
        note = back_up(at=AT + timedelta(days=day))
        assert note.is_good
    found = [path.name for path in backups_in(tmp_path / "safe")]
    assert found == [name_of(AT + timedelta(days=day), "") for day in (2, 1)]
    settings.BACKUP_DIR = "/dev/null/nowhere"
    note = back_up(at=AT)
    assert (note.is_good, "Not made" in note.words) == (False, True)


def test_a_trial_restores_and_verifies_in_a_place_of_its_own(house, tmp_path, settings):
    settings.BACKUP_DIR, settings.BACKUP_PASSPHRASE = str(tmp_path / "safe"), WORDS
    back_up(at=AT)
    note = drill(at=AT)
    assert (note.is_good, note.words) == (True, "Restored and verified: nothing wrong.")
    backups_in(tmp_path / "safe")[0].write_bytes(b"cut off")
    note = drill(at=AT)
    assert (note.is_good, "restore failed: CommandError: This is no whole backup" in note.words) == (False, True)


def test_killed_while_it_writes_the_last_good_one_stays(tmp_path):
    """SIGKILL up to the very end; the process has a database of its own, as it is migrated."""
    path, manage = tmp_path / "one.tar.gz", [sys.executable, "manage.py"]
    there = {"DATABASE_URL": f"sqlite:///{tmp_path}/db.sqlite3", "DJANGO_SETTINGS_MODULE": "backoffice.settings.test"}
    env = {**os.environ, **there}
    subprocess.run([*manage, "migrate", "--verbosity", "0"], env=env, check=True)
    began = time.perf_counter()
    subprocess.run([*manage, "backup", path], env=env, check=True, stdout=subprocess.DEVNULL)
    whole = time.perf_counter() - began
    for part in (0.8, 0.9, 0.95):
        process = subprocess.Popen([*manage, "backup", path], env=env, stdout=subprocess.DEVNULL)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(timeout=part * whole)
        process.kill()
        process.wait()
        with tarfile.open(path, "r:gz") as kept:
            assert kept.getnames()[-1] == MANIFEST


def test_a_trial_is_due_once_a_week():
    assert is_drill_due(AT)
    BackupNote.objects.create(kind="drill", at=AT, is_good=True, words="ok")
    assert not is_drill_due(AT + timedelta(days=6))
    assert is_drill_due(AT + timedelta(days=7))


def test_amounts_and_moments_keep_their_last_digit():
    note = BackupNote(
        pk=1, kind="drill", at=datetime(2026, 3, 1, 1, 2, 3, 456789, UTC), is_good=True, words="é\n\u2028"
    )
    row = {field.attname: getattr(note, field.attname) for field in BackupNote._meta.concrete_fields}
    (again,) = rows.read(BackupNote, rows.written([row]))
    assert (again.at, again.words) == (note.at, note.words)
    (sold,) = rows.read(PackageSold, rows.written([{"id": 1, "price": Decimal("0.105")}]))
    assert sold.price == Decimal("0.105")
    assert Head._meta.label in {model._meta.label for model in rows.tables()}
