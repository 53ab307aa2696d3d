import hashlib

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.documents.models import Document
from backoffice.refusal import Refused


def get_document_or_404(request: HttpRequest, pk: int) -> Document:
    """The door of a stored file: open to those who may read its kind."""
    document = get_object_or_404(Document, pk=pk)
    demand(request, document.power_to_read)
    return document


def bytes_of(document: Document) -> bytes:
    """The bytes as they were stored. Refused when they are erased, gone, or no longer the ones that were stored."""
    if document.erased_at is not None:
        raise Refused("This file was erased by a rule of keeping. Its hash stays on record; its content is gone.")
    try:
        with document.file.open("rb") as file:
            content = bytes(file.read())
    except FileNotFoundError:
        raise Refused(f"The file of “{document}” is missing. Bring it back from a backup.") from None
    if hashlib.sha256(content).hexdigest() != document.sha256:
        raise Refused(f"The file of “{document}” is not the one that was stored. Bring it back from a backup.")
    return content
