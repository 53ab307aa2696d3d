"""The shelf of all paper: what is stored, about whom where that is known, and several as one ZIP."""

import io
import zipfile
from collections.abc import Iterable

from django.db.models import OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils.text import slugify

from backoffice.access.models import User
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from billing.invoices.models import Invoice
from billing.quotes.models import Quote
from clients.paperwork.models import Form, VetReferral

MOST_AT_ONCE = 100


def papers_for(user: User) -> QuerySet[Document]:
    """Every file of the kinds that this person may read, with the name of person and horse where they are known."""
    kinds = [kind for kind, power in Document.POWER_TO_READ.items() if user.may(power)]
    mine = {"document": OuterRef("pk")}
    person = [
        Subquery(Form.objects.filter(**mine).values("signer__name")[:1]),
        Subquery(Quote.objects.filter(**mine).values("person__name")[:1]),
        Subquery(Invoice.objects.filter(**mine).values("payer__name")[:1]),
    ]
    horse = [Subquery(model.objects.filter(**mine).values("animal__name")[:1]) for model in (Form, VetReferral)]
    return Document.objects.filter(kind__in=kinds, erased_at__isnull=True).annotate(
        person_name=Coalesce(*person, Value("")), horse_name=Coalesce(*horse, Value(""))
    )


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
