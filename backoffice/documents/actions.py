import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime
from functools import partial

from django.core.files.base import ContentFile
from django.db import transaction

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.models import Document
from backoffice.documents.uploads import Given
from backoffice.refusal import Refused


@audit.action
def store_document(
    *,
    kind: Document.Kind,
    title: str,
    content: bytes,
    at: datetime,
    by: User | None,
    sealed: bool = False,
    content_type: str = Document.ContentType.PDF,
) -> Document:
    """Keep the bytes of a PDF or photo for good, under a name that tells nothing, with their SHA-256."""
    document = Document(
        kind=kind,
        title=title[:200],
        content_type=content_type,
        size=len(content),
        sha256=hashlib.sha256(content).hexdigest(),
        is_sealed=sealed,
        made_at=at,
        made_by=by,
    )
    document.file.save(f"{secrets.token_hex(16)}{document.suffix}", ContentFile(content), save=False)
    audit.on_failure(partial(document.file.delete, save=False))
    document.save(force_insert=True)
    audit.record("document stored", document, at=at, by=by, changes={"kind": document.kind, "sha256": document.sha256})
    return document


@audit.action
def store_given(*, kind: Document.Kind, title: str, given: Sequence[Given], at: datetime, by: User) -> list[Document]:
    """Keep files from outside, each as its own document, in their order."""
    return [
        store_document(
            kind=kind,
            title=f"{title}, file {number} as given",
            content=one.content,
            content_type=one.content_type,
            at=at,
            by=by,
        )
        for number, one in enumerate(given, start=1)
    ]


@audit.action
def erase_document(*, document: Document, rule: str, at: datetime, by: User | None) -> Document:
    """Destroy the bytes for good, once the change is sure; a tombstone stays: the hash, the rule, when, by whom."""
    document = Document.objects.select_for_update().get(pk=document.pk)
    if document.erased_at is not None:
        raise Refused("This file is already erased.")
    document.title = document.get_kind_display()
    document.erased_at, document.erased_by, document.erased_rule = at, by, rule
    document.save(update_fields=["title", "erased_at", "erased_by", "erased_rule"])
    audit.record("document erased", document, at=at, by=by, changes={"rule": rule, "sha256": document.sha256})
    transaction.on_commit(partial(document.file.storage.delete, str(document.file.name)))
    return document
