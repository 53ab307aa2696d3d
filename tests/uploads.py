"""Files to upload: good photos and PDFs, and the same with something bad inside."""

import zlib
from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from pypdf import PdfWriter
from pypdf.annotations import Link
from pypdf.generic import ArrayObject, DecodedStreamObject, DictionaryObject, NameObject, NumberObject, TextStringObject

ORIENTATION, GPS, LATITUDE = 0x0112, 0x8825, 2


def photo(
    kind: str = "JPEG", *, size: tuple[int, int] = (60, 40), turned: bool = False, located: bool = False
) -> bytes:
    picture, written, exif = Image.new("RGB", size, "white"), BytesIO(), Image.Exif()
    picture.paste("black", (0, 0, size[0] // 2, size[1]))
    if turned:
        exif[ORIENTATION] = 6  # the camera was held upright: turn by 90 degrees to see it so
    if located:
        exif.get_ifd(GPS).update({1: "N", LATITUDE: (39.0, 44.0, 21.0), 3: "W", 4: (104.0, 59.0, 3.0)})
        exif[0x010F] = "Maker of cameras"
    picture.save(written, kind, exif=exif)
    return written.getvalue()


def pdf(*, pages: int = 1, **ways) -> bytes:
    writer = pdf_writer(pages)
    return written_by(writer, **ways)


def pdf_writer(pages: int = 1) -> PdfWriter:
    writer = PdfWriter()
    for _ in range(pages):
        writer.add_blank_page(612, 792)
    return writer


def written_by(writer: PdfWriter, *, password: str = "") -> bytes:
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def pdf_with_script() -> bytes:
    writer = pdf_writer()
    action = DictionaryObject({NameObject("/S"): NameObject("/JavaScript"), NameObject("/JS"): TextStringObject("0")})
    writer.root_object[NameObject("/OpenAction")] = action
    return written_by(writer)


def pdf_with_hidden_script() -> bytes:
    """The name of the script is written in hexadecimal, as ISO 32000 allows."""
    return pdf_with_script().replace(b"/JavaScript", b"/J#61vaScript").replace(b"/JS", b"/#4aS")


def pdf_with_files() -> bytes:
    writer = pdf_writer()
    writer.add_attachment("note.txt", b"hello")
    return written_by(writer)


def pdf_with_launch() -> bytes:
    writer = pdf_writer()
    writer.add_annotation(0, Link(rect=(0, 0, 9, 9), url="https://example.org/"))
    action = writer.pages[0]["/Annots"][0].get_object()["/A"].get_object()
    action[NameObject("/S")] = NameObject("/Launch")
    action[NameObject("/F")] = TextStringObject("calc.exe")
    return written_by(writer)


def pdf_bomb(*, unpacked: int, twice: bool = False) -> bytes:
    """A page whose content unpacks to very much."""
    writer, squeeze = pdf_writer(), zlib.compressobj(9)
    chunk = b" " * (1 << 20)
    packed = b"".join(squeeze.compress(chunk) for _ in range(unpacked >> 20)) + squeeze.flush()
    stream = DecodedStreamObject()
    stream._data = zlib.compress(packed) if twice else packed
    flate = NameObject("/FlateDecode")
    stream[NameObject("/Filter")] = ArrayObject([flate, flate]) if twice else flate
    writer.pages[0][NameObject("/Contents")] = writer._add_object(stream)
    return written_by(writer)


def pdf_with_huge_picture() -> bytes:
    writer, stream = pdf_writer(), DecodedStreamObject()
    stream.set_data(b"x")
    for name, value in (("/Type", NameObject("/XObject")), ("/Subtype", NameObject("/Image"))):
        stream[NameObject(name)] = value
    for name in ("/Width", "/Height"):
        stream[NameObject(name)] = NumberObject(200_000)
    pictures = DictionaryObject({NameObject("/Im0"): writer._add_object(stream)})
    writer.pages[0][NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): pictures})
    return written_by(writer)


def upload(content: bytes, name: str = "scan.pdf", kind: str = "application/pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type=kind)
