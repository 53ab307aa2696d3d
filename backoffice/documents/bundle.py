"""Files from outside behind a page of ours, as one PDF."""

from collections.abc import Sequence
from io import BytesIO

from PIL import Image
from pypdf import PdfReader, PdfWriter

from backoffice.documents.uploads import PHOTO, Given

INCHES_LONG = 11  # a photo fills a page of letter paper
QUALITY = 90


def one_pdf(cover: bytes, given: Sequence[Given]) -> bytes:
    """The cover, then every page given, in the order given. A scan cannot be read aloud, so PDF/UA is not claimed."""
    writer = PdfWriter(clone_from=BytesIO(cover))
    writer.root_object.pop("/Metadata", None)
    for one in given:
        pages = page_of_photo(one.content) if one.content_type == PHOTO else one.pages_alone
        for page in PdfReader(BytesIO(pages)).pages:
            writer.add_page(page)
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def page_of_photo(content: bytes) -> bytes:
    written = BytesIO()
    with Image.open(BytesIO(content)) as photo:
        photo.save(written, "PDF", resolution=max(photo.size) / INCHES_LONG, quality=QUALITY)
    return written.getvalue()
