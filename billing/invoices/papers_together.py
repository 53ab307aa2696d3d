"""The issued papers of a time together: one PDF to print, or a ZIP to keep."""

from collections.abc import Iterable
from io import BytesIO
from zipfile import ZIP_STORED, ZipFile

from django.utils.text import slugify

from backoffice.documents.queries import bytes_of
from billing.invoices.models import Invoice


def as_zip(invoices: Iterable[Invoice]) -> bytes:
    """Each PDF as it was issued, byte by byte."""
    written = BytesIO()
    with ZipFile(written, "w", ZIP_STORED) as archive:
        for invoice in invoices:
            if invoice.document is not None and invoice.document.erased_at is None:
                archive.writestr(f"{invoice.name}-{slugify(invoice.payer.name)}.pdf", bytes_of(invoice.document))
    return written.getvalue()


def as_one_pdf(invoices: Iterable[Invoice]) -> bytes:
    """All pages one after another, to print; the papers themselves are those of the ZIP."""
    from pikepdf import Pdf

    together, kept = Pdf.new(), []
    for invoice in invoices:
        if invoice.document is not None and invoice.document.erased_at is None:
            kept.append(Pdf.open(BytesIO(bytes_of(invoice.document))))
            together.pages.extend(kept[-1].pages)
    written = BytesIO()
    together.save(written)
    return written.getvalue()
