"""A file from outside, taken for what it holds and never for what it is called: a photo, or a plain PDF."""

import hashlib
import json
import subprocess
import sys
from dataclasses import dataclass

from django.conf import settings

from backoffice.documents import foreign_pdf
from backoffice.documents.pictures import made_anew

PHOTO, PDF = "image/jpeg", "application/pdf"
TAKEN = "Give a photo (JPEG, PNG or WebP) or a PDF."
NOT_TAKEN = (
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"\xca\xfe\xba\xbe", "a program"),
    (b"\xcf\xfa\xed\xfe", "a program"),
    (b"#!", "a program"),
    (b"PK", "a packed folder or an office file"),
    (b"GIF8", "a GIF"),
    (b"{\\rtf", "a text file"),
)
SIGNS_OF_A_PAGE = (b"<svg", b"<html", b"<!doctype", b"<script", b"<?xml", b"<body")
END_OF_PDF = b"%%EOF"
END_OF_ZIP, LONGEST_ZIP_COMMENT = b"PK\x05\x06", 65_557
BROKEN_PDF = "This PDF is broken and cannot be opened. Scan the paper again."
HEAVY_PDF = "This PDF takes too much time or memory to open. Scan the paper again."
TWO_THINGS = "This file is a PDF and something else at once. Print it to a plain PDF, and give that."
OUT_OF_BREATH = (-9, -24)  # killed, or stopped by the limit of processor time


@dataclass(frozen=True, slots=True)
class Given:
    """A file that was checked: what is kept of it, what of it goes into paper, and the digest of the bytes as given.

    A photo is kept as it was made anew, a PDF as it was given; `pages_alone` are its pages without anything else.
    """

    content: bytes
    content_type: str
    pages: int
    given_sha256: str
    pages_alone: bytes = b""


def checked(content: bytes, *, photos_only: bool = False) -> Given:
    """ValueError, with one plain sentence, for a file that is not taken."""
    if not content:
        raise ValueError("This file is empty.")
    refuse_size(len(content))
    digest = hashlib.sha256(content).hexdigest()
    if is_photo(content):
        return Given(made_anew(content, pixels=settings.UPLOAD_MOST_PIXELS), PHOTO, 1, digest)
    if photos_only:
        raise ValueError("This is not a photo. Give one as JPEG, PNG or WebP.")
    if not content.startswith(b"%PDF-"):
        raise ValueError(f"{_what_it_is(content)} {TAKEN}")
    _refuse_two_things(content)
    pages, alone = _looked_through(content)
    return Given(content, PDF, pages, digest, alone)


def refuse_size(size: int) -> None:
    most = settings.UPLOAD_MOST_BYTES
    if size > most:
        raise ValueError(f"This file is larger than {most // 1024 // 1024} MB. Scan it smaller, or page by page.")


def is_photo(content: bytes) -> bool:
    is_webp = content.startswith(b"RIFF") and content[8:12] == b"WEBP"
    return is_webp or content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"))


def _what_it_is(content: bytes) -> str:
    for sign, name in NOT_TAKEN:
        if content.startswith(sign):
            return f"This is {name}."
    head = content[:1024].lower()
    if any(sign in head for sign in SIGNS_OF_A_PAGE):
        return "This is a web page or a drawing that can carry a script."
    return "This is neither a photo nor a PDF."


def _refuse_two_things(content: bytes) -> None:
    """A PDF begins with its sign and ends with its end; a ZIP or a page around it is read as such by other programs."""
    end = content.rfind(END_OF_PDF)
    if end < 0:
        raise ValueError(BROKEN_PDF)
    if content[end + len(END_OF_PDF) :].strip(b"\0\r\n\t "):
        raise ValueError(TWO_THINGS)
    head = content[:1024].lower()
    if END_OF_ZIP in content[-LONGEST_ZIP_COMMENT:] or any(sign in head for sign in (b"<html", b"<script", b"<svg")):
        raise ValueError(TWO_THINGS)


def _looked_through(content: bytes) -> tuple[int, bytes]:
    limits = {
        "pages": settings.UPLOAD_MOST_PAGES,
        "pixels": settings.UPLOAD_MOST_PIXELS,
        "unpacked": settings.UPLOAD_MOST_UNPACKED,
    }
    try:
        ran = subprocess.run(  # noqa: S603 — our own program; the file goes in on standard input only
            [sys.executable, "-I", foreign_pdf.__file__],
            input=json.dumps(limits).encode() + b"\n" + content,
            capture_output=True,
            timeout=foreign_pdf.SECONDS * 2,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise ValueError(HEAVY_PDF) from None
    if ran.returncode in OUT_OF_BREATH or b"MemoryError" in ran.stderr:
        raise ValueError(HEAVY_PDF)
    if ran.returncode != 0:
        raise ValueError(BROKEN_PDF)
    line, _, alone = ran.stdout.partition(b"\n")
    answer = json.loads(line)
    if "fault" in answer:
        raise ValueError(answer["fault"])
    return int(answer["pages"]), alone
