import hashlib
import re
from pathlib import Path

import pytest
from django.core.files.storage import default_storage

from backoffice.audit import actions as audit
from backoffice.audit.queries import trail_of
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused

pytestmark = pytest.mark.usefixtures("private_folder")
CONTENT = b"%PDF-1.7 sample"


def store(now, **changes) -> Document:
    facts = {"kind": Document.Kind.INVOICE, "title": "Invoice 2026-0001", "content": CONTENT, "at": now, "by": None}
    return store_document(**{**facts, **changes})


def test_the_bytes_are_kept_with_their_sha_256(business, now, owner_manager):
    document = store(now, by=owner_manager)
    document.refresh_from_db()
    assert bytes_of(document) == CONTENT
    assert document.sha256 == hashlib.sha256(CONTENT).hexdigest()
    assert (document.size, document.made_at, document.made_by) == (len(CONTENT), now, owner_manager)


def test_the_file_s_name_tells_nothing(business, now):
    first, second = store(now), store(now)
    assert first.file.name != second.file.name
    assert re.fullmatch(r"documents/\d{4}/\d{2}/[0-9a-f]{32}\.pdf", first.file.name)


def test_only_we_may_read_the_file(business, now):
    assert Path(default_storage.path(store(now).file.name)).stat().st_mode & 0o777 == 0o600


def test_storing_is_in_the_trail_without_the_title(business, now):
    document = store(now, title="Consent of Ottilie Brackwater")
    (entry,) = trail_of(document)
    assert entry.changes == {"kind": "invoice", "sha256": document.sha256}


def test_a_very_long_title_is_cut(business, now):
    assert len(store(now, title="x" * 5000).title) == 200


def test_an_action_that_fails_leaves_no_file(business, now, private_folder):
    @audit.action
    def issue_and_fail() -> None:
        store(now)
        assert [path for path in private_folder.rglob("*") if path.is_file()]
        raise Refused("No.")

    with pytest.raises(Refused):
        issue_and_fail()
    assert not Document.objects.exists()
    assert not [path for path in private_folder.rglob("*") if path.is_file()]


def test_an_action_that_fails_inside_one_that_goes_on_takes_only_its_own_file(business, now, private_folder):
    @audit.action
    def inner() -> None:
        store(now, title="inner")
        raise Refused("No.")

    @audit.action
    def outer() -> Document:
        kept = store(now, title="outer")
        with pytest.raises(Refused):
            inner()
        return kept

    kept = outer()
    assert [path.name for path in private_folder.rglob("*.pdf")] == [kept.file.name.rsplit("/", 1)[1]]


def test_a_changed_file_is_refused(business, now, private_folder):
    document = store(now)
    (private_folder / document.file.name).write_bytes(b"%PDF-1.7 samplf")
    with pytest.raises(Refused, match="not the one that was stored"):
        bytes_of(document)


def test_a_missing_file_is_refused(business, now, private_folder):
    document = store(now)
    (private_folder / document.file.name).unlink()
    with pytest.raises(Refused, match="missing"):
        bytes_of(document)
