import json
from datetime import date, datetime
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

from django.core.serializers.json import DjangoJSONEncoder
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from clients.animals.actions import today_of
from clients.animals.models import Animal
from clients.records.history import history_of, index_of
from clients.records.models import HistoryFile
from clients.records.queries import owned_since
from clients.records.telling import Told


@audit.action
def make_history(
    *, animal: Animal, reader: str, at: datetime, by: User, with_earlier: bool = False
) -> tuple[HistoryFile, Told]:
    """The sealed PDF and the values it was drawn from. Earlier owners' days go along only with their yes."""
    on = today_of(at)
    since: date | None = None if with_earlier else owned_since(animal, on)
    told = history_of(animal, since=since, on=on)
    title = f"History file, {animal}"
    context = {"told": told, "title": title, "reader": HistoryFile.Reader(reader).label}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/history.html", context)
    sealed = seal_pdf(paper, reason="History file", at=at)
    document = store_document(kind=Document.Kind.HISTORY, title=title, content=sealed, at=at, by=by, sealed=True)
    file = HistoryFile.objects.create(animal=animal, reader=reader, since=since, made_at=at, document=document)
    changes = {"animal": animal.pk, "for": reader, "since": since, "sha256": document.sha256}
    audit.record("history file made", file, at=at, by=by, changes=changes)
    return file, told


def zip_of(file: HistoryFile, told: Told) -> bytes:
    """The PDF, the same as JSON, and an index in plain language."""
    packed = BytesIO()
    with ZipFile(packed, "w", ZIP_DEFLATED) as archive:
        archive.writestr("index.txt", index_of(told, business=the_business().name))
        archive.writestr("history.pdf", bytes_of(file.document))
        archive.writestr("history.json", json.dumps(told, cls=DjangoJSONEncoder, indent=2, ensure_ascii=False))
    return packed.getvalue()
