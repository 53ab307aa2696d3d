"""What `verify` looks at here: every stored file is there, is the one that was stored, and its seal is whole."""

import hashlib
from collections.abc import Iterator

from django.core.files.storage import Storage, default_storage

from backoffice.documents.models import Document, SealKey
from backoffice.documents.seal import fault_of_seal

FOLDER = "documents"


def count_looked_at() -> str:
    sealed, erased = Document.objects.filter(is_sealed=True).count(), Document.objects.exclude(erased_at=None).count()
    words = f", {erased} erased by rule" if erased else ""
    return f"{Document.objects.count()} documents, {sealed} of them sealed{words}"


def faults_of_files() -> Iterator[str]:
    """A sentence for each stored file that is missing, changed, or whose seal is not ours over the entire file.

    An erased one is whole when its bytes are gone; its tombstone names the rule.
    """
    keys_pem = list(SealKey.objects.values_list("certificate_pem", flat=True))
    for document in Document.objects.order_by("pk").iterator():
        name = f"document {document.pk} ({document.get_kind_display().lower()})"
        if document.erased_at is not None:
            if document.file.storage.exists(str(document.file.name)):
                yield f"{name}: it was erased and its file {document.file.name} is still there."
            continue
        try:
            with document.file.open("rb") as file:
                content = file.read()
        except FileNotFoundError:
            yield f"{name}: its file {document.file.name} is missing."
            continue
        if hashlib.sha256(content).hexdigest() != document.sha256:
            yield f"{name}: its file is not the one that was stored (SHA-256 differs)."
        fault = fault_of_seal(content, keys_pem=keys_pem) if document.is_sealed else None
        if fault is not None:
            yield f"{name}: its file {fault}."


def count_files() -> str:
    return f"{sum(1 for _ in names_in(default_storage, FOLDER))} files"


def files_without_a_row() -> Iterator[str]:
    known = set(Document.objects.values_list("file", flat=True))
    for name in names_in(default_storage, FOLDER):
        if name not in known:
            yield f"file {name} belongs to no document."


def names_in(storage: Storage, folder: str) -> Iterator[str]:
    """Every file in the folder and those below it."""
    try:
        folders, files = storage.listdir(folder)
    except FileNotFoundError:
        return
    for file in sorted(files):
        yield f"{folder}/{file}"
    for inner in sorted(folders):
        yield from names_in(storage, f"{folder}/{inner}")
