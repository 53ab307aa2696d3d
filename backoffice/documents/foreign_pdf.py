"""Looks through a PDF from outside. Run as a program of its own, with little memory and time, so that it may fail.

On standard input a line of JSON (`pages`, `pixels`, `unpacked`) and then the file; on standard output a line of JSON
with `fault` (a sentence) or `pages`, and after `pages` the file's pages alone, written anew. Knows no Django.
"""

import json
import sys
import zlib
from collections.abc import Iterator
from contextlib import suppress
from io import BytesIO
from typing import Any

from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NameObject, StreamObject

MEMORY = 1024 * 1024 * 1024
SECONDS = 20
MOST_OBJECTS = 100_000
CHUNK = 1 << 20
FLATE = {"/FlateDecode", "/Fl"}
SCRIPT = "This PDF carries a script. Print it to paper or to a plain PDF, and give that."
PROGRAM = "This PDF starts another program or sends data away. Print it to a plain PDF, and give that."
FILES = "This PDF has other files packed inside. Print it to a plain PDF, and give that."
BOMB = "This PDF unpacks to far more than a scan needs. Scan the paper again."
FORBIDDEN = {
    "/JS": SCRIPT,
    "/JavaScript": SCRIPT,
    "/XFA": SCRIPT,
    "/Launch": PROGRAM,
    "/ImportData": PROGRAM,
    "/SubmitForm": PROGRAM,
    "/EF": FILES,
    "/EmbeddedFile": FILES,
    "/EmbeddedFiles": FILES,
    "/RichMedia": FILES,
}
# Also where no object of the file's last version shows them; the short names would be found in any photo's bytes.
FORBIDDEN_BYTES = {b"/JavaScript": SCRIPT, b"/Launch": PROGRAM, b"/EmbeddedFile": FILES}


class Fault(Exception):
    """A sentence on why the file is not taken."""


def look_through(content: bytes, *, pages: int, pixels: int, unpacked: int) -> tuple[int, bytes]:
    """How many pages it has, and those pages alone. `Fault` says why it is not taken; any other error: it is broken."""
    for name, sentence in FORBIDDEN_BYTES.items():
        if name in content:
            raise Fault(sentence)
    reader = PdfReader(BytesIO(content))
    if reader.is_encrypted:
        raise Fault("This PDF is locked with a password. Give one without.")
    count = len(reader.pages)
    if not 1 <= count <= pages:
        raise Fault(f"This PDF has {count} pages; from 1 to {pages} are taken.")
    left = unpacked
    for stored in _objects(reader):
        for part in _parts(stored):
            _refuse_commands(part)
        if isinstance(stored, StreamObject):
            left -= _unpacked_size(stored, left, pixels)
    return count, _pages_alone(reader)


def _objects(reader: PdfReader) -> Iterator[Any]:
    numbers = {(number, generation) for generation, rows in reader.xref.items() for number in rows}
    numbers |= {(number, 0) for number in reader.xref_objStm}
    if len(numbers) > MOST_OBJECTS:
        raise Fault(BOMB)
    yield reader.trailer
    for number, generation in sorted(numbers):
        if number:
            yield reader.get_object(IndirectObject(number, generation, reader))


def _parts(stored: Any) -> Iterator[Any]:
    """The object and all that stands inside it; what it only refers to has its own turn."""
    waiting = [stored]
    while waiting:
        part = waiting.pop()
        yield part
        if isinstance(part, DictionaryObject):
            waiting += [part.raw_get(key) for key in part]
        elif isinstance(part, ArrayObject):
            waiting += list(part)


def _refuse_commands(part: Any) -> None:
    names = [str(part)] if isinstance(part, NameObject) else []
    names += [str(key) for key in part] if isinstance(part, DictionaryObject) else []
    for name in names:
        if name in FORBIDDEN:
            raise Fault(FORBIDDEN[name])


def _unpacked_size(stream: StreamObject, left: int, pixels: int) -> int:
    """Bytes that the stream unpacks to, counted without keeping them."""
    width, height = stream.get("/Width", 0), stream.get("/Height", 0)
    if isinstance(width, int) and isinstance(height, int) and width * height > pixels:
        raise Fault(f"A picture in this PDF has more than {pixels // 1_000_000} million points. Scan it smaller.")
    given = stream.get("/Filter", [])
    filters = [str(name) for name in (given if isinstance(given, ArrayObject) else [given])]
    if sum(name in FLATE for name in filters) > 1:
        raise Fault(BOMB)
    packed = bytes(stream._data)
    size = len(packed) if not filters or filters[0] not in FLATE else _inflated_size(packed, left)
    if size > left:
        raise Fault(BOMB)
    return size


def _inflated_size(packed: bytes, most: int) -> int:
    inflate, size = zlib.decompressobj(), 0
    while packed and size <= most:
        size += len(inflate.decompress(packed, CHUNK))
        packed = inflate.unconsumed_tail
    return size


def _pages_alone(reader: PdfReader) -> bytes:
    writer, written = PdfWriter(), BytesIO()
    for page in reader.pages:
        writer.add_page(page)
    writer.write(written)
    return written.getvalue()


def _take_little() -> None:
    with suppress(ImportError, ValueError, OSError):  # where the system knows no such limits, the caller's clock stays
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def main() -> None:
    _take_little()
    limits = json.loads(sys.stdin.buffer.readline())
    try:
        pages, content = look_through(sys.stdin.buffer.read(), **limits)
    except Fault as fault:
        pages, content = 0, b""
        answer: dict[str, object] = {"fault": str(fault)}
    else:
        answer = {"pages": pages}
    sys.stdout.buffer.write(json.dumps(answer).encode() + b"\n" + content)


if __name__ == "__main__":
    main()
