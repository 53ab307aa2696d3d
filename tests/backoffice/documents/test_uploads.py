import hashlib
import zipfile
from io import BytesIO

import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.utils.datastructures import MultiValueDict
from PIL import Image

from backoffice.documents.fields import FilesInput, PhotoField, ScanField
from backoffice.documents.uploads import checked
from tests import uploads
from tests.uploads import pdf, photo, upload


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_kept_as_a_jpeg_made_anew(kind):
    content = photo(kind)
    given = checked(content)
    assert (given.content_type, given.pages, given.given_sha256) == (
        "image/jpeg",
        1,
        hashlib.sha256(content).hexdigest(),
    )
    with Image.open(BytesIO(given.content)) as kept:
        assert (kept.format, kept.size) == ("JPEG", (60, 40))


def test_a_photo_stands_upright_and_says_neither_where_nor_with_what_it_was_taken():
    content = photo(turned=True, located=True)
    assert b"Maker of cameras" in content
    kept = Image.open(BytesIO(checked(content).content))
    assert kept.size == (40, 60)
    assert dict(kept.getexif()) == {}
    assert b"Maker of cameras" not in checked(content).content


def test_what_hangs_behind_a_photo_is_not_kept():
    assert b"<script>" not in checked(photo() + b"<script>alert(1)</script>").content


def test_a_seen_through_picture_lies_on_white():
    written = BytesIO()
    Image.new("RGBA", (9, 9), (0, 0, 0, 0)).save(written, "PNG")
    assert Image.open(BytesIO(checked(written.getvalue()).content)).getpixel((4, 4)) == (255, 255, 255)


def test_a_large_photo_is_made_as_small_as_paper_needs():
    assert max(Image.open(BytesIO(checked(photo(size=(5000, 100))).content)).size) == 3600


def test_a_pdf_is_kept_as_given_and_its_pages_are_written_anew():
    content = pdf(pages=3)
    given = checked(content)
    assert (given.content, given.content_type, given.pages) == (content, "application/pdf", 3)
    assert len(pypdf.PdfReader(BytesIO(given.pages_alone)).pages) == 3


def zipped(before: bytes) -> bytes:
    written = BytesIO(before)
    written.seek(0, 2)
    with zipfile.ZipFile(written, "a") as packed:
        packed.writestr("inside.txt", "hello")
        packed.comment = b"%%EOF"
    return written.getvalue()


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
REFUSED = {
    "nothing": (lambda: b"", "empty"),
    "text": (lambda: b"hello", "neither a photo nor a PDF"),
    "a drawing with a script": (lambda: SVG, "can carry a script"),
    "a web page": (lambda: b"<!DOCTYPE html><body>hello", "can carry a script"),
    "a program of one system": (lambda: b"MZ\x90\x00" + b"\0" * 100, "a program"),
    "a program of another": (lambda: b"\x7fELF" + b"\0" * 100, "a program"),
    "a folder": (lambda: zipped(b""), "a packed folder"),
    "a photo cut off": (lambda: photo(size=(900, 900))[:400], "broken"),
    "the beginning of a photo": (lambda: b"\xff\xd8\xff", "broken"),
    "a photo with too many points": (lambda: photo("PNG", size=(9000, 9000)), "million points"),
    "a PDF cut off": (lambda: pdf()[:-30], "broken"),
    "a PDF of noise": (lambda: b"%PDF-1.7\n" + bytes(range(256)) * 9 + b"\n%%EOF", "broken"),
    "a PDF without pages": (lambda: pdf(pages=0), "0 pages"),
    "a locked PDF": (lambda: pdf(password="x"), "password"),
    "a PDF with a script": (uploads.pdf_with_script, "script"),
    "a PDF with a script under another name": (uploads.pdf_with_hidden_script, "script"),
    "a PDF with files": (uploads.pdf_with_files, "packed inside"),
    "a PDF that starts a program": (uploads.pdf_with_launch, "starts another program"),
    "a PDF with too many pages": (lambda: pdf(pages=41), "41 pages"),
    "a PDF with a huge picture": (uploads.pdf_with_huge_picture, "million points"),
    "a PDF bomb": (lambda: uploads.pdf_bomb(unpacked=1 << 29), "unpacks"),
    "a PDF bomb within": (lambda: uploads.pdf_bomb(unpacked=1 << 24, twice=True), "unpacks"),
    "a PDF and a folder": (lambda: zipped(pdf()), "something else"),
    "a PDF and a page": (lambda: pdf() + b"<html><script>alert(1)</script>", "something else"),
    "a page before a PDF": (lambda: b"<html>" + pdf(), "can carry a script"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_refused_in_one_sentence(what):
    make, words = REFUSED[what]
    with pytest.raises(ValueError, match=words) as refused:
        checked(make())
    assert str(refused.value).endswith(".")


def test_a_file_larger_than_the_setting_is_not_even_read(settings):
    settings.UPLOAD_MOST_BYTES = 1024 * 1024
    file = upload(b"x" * (1024 * 1024 + 1))
    with pytest.raises(ValidationError, match="larger than 1 MB"):
        ScanField().clean([file])
    assert file.tell() == 0


def test_a_pdf_that_takes_too_long_is_stopped(settings, monkeypatch):
    monkeypatch.setattr("backoffice.documents.foreign_pdf.SECONDS", 0.005)
    with pytest.raises(ValueError, match="too much time or memory"):
        checked(pdf())


# The fields


def test_several_photos_are_one_scan_in_their_order():
    given = ScanField().clean([upload(photo(size=(40, 40)), "b.jpg"), upload(pdf(), "a.pdf")])
    assert [one.content_type for one in given] == ["image/jpeg", "application/pdf"]


def test_the_fault_names_which_of_several_files_it_is():
    with pytest.raises(ValidationError, match="File 2: This is neither"):
        ScanField().clean([upload(photo()), upload(b"hello")])


def test_the_name_and_the_type_that_the_browser_says_count_for_nothing():
    (given,) = ScanField().clean([upload(photo(), "../../etc/passwd.pdf", "text/html")])
    assert given.content_type == "image/jpeg"
    with pytest.raises(ValidationError, match="can carry a script"):
        ScanField().clean([upload(SVG, "photo.jpg", "image/jpeg")])


def test_pages_of_all_files_count_together(settings):
    settings.UPLOAD_MOST_PAGES = 2
    with pytest.raises(ValidationError, match="more than 2 pages"):
        ScanField().clean([upload(pdf(pages=2)), upload(photo())])
    with pytest.raises(ValidationError, match="At most 2 files"):
        ScanField().clean([upload(photo())] * 3)


def test_a_missing_scan_is_asked_for():
    with pytest.raises(ValidationError, match="required"):
        ScanField().clean(FilesInput().value_from_datadict({}, MultiValueDict(), "scan"))


def test_a_photo_field_takes_no_pdf():
    assert PhotoField().clean(upload(photo())).content_type == "image/jpeg"
    with pytest.raises(ValidationError, match="not a photo"):
        PhotoField().clean(upload(pdf()))
