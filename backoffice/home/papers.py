"""The shelf of all paper: what is stored, about whom where that is known, and several as one ZIP."""

import io
import zipfile
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db.models import Model, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils.text import slugify

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from billing.invoices.models import Invoice
from billing.payments.models import Payment
from billing.quotes.models import Quote
from clients.animals.models import Animal
from clients.incidents.models import Incident
from clients.kit.models import Handover
from clients.paperwork.models import Form, VetReferral
from clients.paperwork.queries import forms_listed_on
from clients.records.models import HistoryFile
from clients.visits.models import Visit

MOST_AT_ONCE = 100


class Source(NamedTuple):
    """Where a file is kept, and from there the way to the names of the person, the horse and the barn."""

    model: type[Model]
    link: str
    person: str = ""
    horse: str = ""
    barn: str = ""


SOURCES = (
    Source(Form, "document", "signer__name", "animal__name", "barn__name"),
    Source(Form, "scans", "signer__name", "animal__name", "barn__name"),
    Source(VetReferral, "document", horse="animal__name"),
    Source(VetReferral, "scans", horse="animal__name"),
    Source(Incident, "papers", horse="animal__name", barn="barn__name"),
    Source(Handover, "document", person="hire__person__name"),
    Source(HistoryFile, "document", horse="animal__name"),
    Source(Visit, "report", horse="animal__name", barn="barn__name"),
    Source(Animal, "photo", horse="name"),
    Source(Quote, "document", person="person__name"),
    Source(Invoice, "document", person="payer__name"),
    Source(Payment, "receipt", person="payer__name"),
)


def papers_for(user: User, on: date) -> QuerySet[Document]:
    """Every file of the kinds that this person may read, with the names that it belongs to and a form's state."""
    kinds = [kind for kind, power in Document.POWER_TO_READ.items() if user.may(power)]
    forms: QuerySet[Any] = forms_listed_on(on).filter(document=OuterRef("pk"))
    return Document.objects.filter(kind__in=kinds, erased_at__isnull=True).annotate(
        person_name=_name("person"),
        horse_name=_name("horse"),
        barn_name=_name("barn"),
        form_state=Coalesce(Subquery(forms.order_by().values("shown_state")[:1]), Value("")),
    )


def _name(of: str) -> Coalesce:
    ways = [(source.model, source.link, getattr(source, of)) for source in SOURCES if getattr(source, of)]
    mine: list[Any] = [
        Subquery(model._default_manager.order_by().filter(**{link: OuterRef("pk")}).values(way)[:1])
        for model, link, way in ways
    ]
    return Coalesce(*mine, Value(""))


@audit.action
def take_papers(*, papers: Iterable[Document], at: datetime, by: User) -> bytes:
    """Several files as one ZIP, and in the trail which ones left the house."""
    taken = list(papers)
    audit.record("papers taken", by, at=at, by=by, changes={"papers": [paper.pk for paper in taken]})
    return zipped(taken)


def zipped(papers: Iterable[Document]) -> bytes:
    """The files under names that any system takes, and an index in plain words."""
    written, lines = io.BytesIO(), ["What is in this folder", ""]
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as folder:
        for number, paper in enumerate(papers, start=1):
            name = f"{number:03d}-{slugify(paper.title)[:60] or paper.kind}{paper.suffix}"
            folder.writestr(name, bytes_of(paper))
            title = " ".join(paper.title.split())
            sealed = ", sealed" if paper.is_sealed else ""
            lines += [
                f"{name}: {title}",
                f"    {paper.get_kind_display()} of {paper.made_at:%Y-%m-%d}{sealed}. SHA-256 {paper.sha256}",
            ]
        folder.writestr("index.txt", "\n".join([*lines, ""]))
    return written.getvalue()
