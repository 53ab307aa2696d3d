"""Everything in one file, from one moment, while the office goes on working; and back into an empty place.

The content is a tar: `rows/<table>/<n>.jsonl`, `files/<name>`, and at the very end `manifest.json`, which counts them:
a file that was cut off has none.
"""

import gzip
import hashlib
import json
import os
import tarfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection, transaction

from backoffice.access.models import User
from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from backoffice.refusal import Refused
from backoffice.upkeep import rows, sealed_stream

FORM = 1
PACKED = 3  # the tightest takes three times as long, for a file a fifth smaller
MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Held:
    """What a backup holds."""

    made_at: datetime
    tables: dict[str, int]
    files: int

    @property
    def words(self) -> str:
        return f"{sum(self.tables.values())} rows of {len(self.tables)} tables and {self.files} files"


def write_backup(path: Path, *, at: datetime, passphrase: str = "") -> Held:
    """Write all of it beside `path`, then put it there in one step: the last good backup stays until then."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    try:
        with _into(part, passphrase) as stream, one_moment():
            held = _write(stream, at)
        part.chmod(0o600)
        _to_disk(part)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return held


def restore_backup(path: Path, *, passphrase: str = "") -> Held:
    """Put all of a backup into a database and a file store in which nobody has worked yet: all of it, or nothing."""
    refuse_unless_empty()
    stored: list[str] = []
    try:
        with transaction.atomic(), _out_of(path, passphrase) as stream:
            held = _read(stream, stored)
    except BaseException as wrong:
        for name in stored:
            default_storage.delete(name)
        if isinstance(wrong, IntegrityError | tarfile.TarError | EOFError | OSError | json.JSONDecodeError):
            raise Refused("This is no whole backup: it is damaged, or cut off.") from wrong
        raise
    return held


def refuse_unless_empty() -> None:
    if User.objects.exists() or Entry.objects.exists():
        raise Refused("A backup is restored into an empty place only: here somebody has worked already.")


@contextmanager
def _into(part: Path, passphrase: str) -> Iterator[IO[bytes]]:
    if passphrase:
        with sealed_stream.sealed(part, passphrase) as stream:
            yield stream
    else:
        with part.open("wb") as stream:
            yield stream


@contextmanager
def _out_of(path: Path, passphrase: str) -> Iterator[IO[bytes]]:
    if sealed_stream.is_sealed(path):
        if not passphrase:
            raise Refused("This backup is under a passphrase: give it.")
        with sealed_stream.opened(path, passphrase) as stream:
            yield stream
    else:
        with path.open("rb") as stream:
            yield stream


@contextmanager
def one_moment() -> Iterator[None]:
    """All reads inside see the database as it is now; nobody waits for them."""
    if connection.in_atomic_block:
        yield
        return
    begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY" if connection.vendor == "postgresql" else "BEGIN DEFERRED"
    with connection.cursor() as cursor:
        cursor.execute(begin)
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


def _write(stream: IO[bytes], at: datetime) -> Held:
    counts, files = {}, 0
    with (
        gzip.GzipFile(fileobj=stream, mode="wb", compresslevel=PACKED) as packed,
        tarfile.open(fileobj=packed, mode="w|") as content,
    ):
        for model in rows.tables():
            label, count = model._meta.label, 0
            for number, chunk in enumerate(rows.chunks_of(model), start=1):
                _add(content, f"rows/{label}/{number:06d}.jsonl", rows.written(chunk), at)
                count += len(chunk)
            counts[label] = count
        for name in Document.objects.filter(erased_at=None).order_by("pk").values_list("file", flat=True):
            files += _add_file(content, name, at)
        told = {"form": FORM, "made_at": at.isoformat(), "tables": counts, "files": files}
        _add(content, MANIFEST, json.dumps(told, indent=1).encode(), at)
    return Held(at, counts, files)


def _add_file(content: tarfile.TarFile, name: str, at: datetime) -> int:
    """One of a document that was erased since the moment of the rows is gone; so it is not in the backup."""
    try:
        with default_storage.open(name) as file:
            _add(content, f"files/{name}", file.read(), at)
    except FileNotFoundError:
        return 0
    return 1


def _add(content: tarfile.TarFile, name: str, held: bytes, at: datetime) -> None:
    told = tarfile.TarInfo(name)
    told.size, told.mtime, told.mode = len(held), int(at.timestamp()), 0o600
    content.addfile(told, BytesIO(held))


def _read(stream: IO[bytes], stored: list[str]) -> Held:
    tables = {model._meta.label: model for model in rows.tables()}
    counts: Counter[str] = Counter()
    manifest: dict[str, Any] | None = None
    rows.empty_all()
    with tarfile.open(fileobj=stream, mode="r|gz") as content:
        for member in content:
            part = content.extractfile(member)
            held = part.read() if part else b""
            kind, _, rest = member.name.partition("/")
            if kind == "rows":
                label = rest.partition("/")[0]
                if label not in tables:
                    raise Refused(f"This backup was made by another version: there is no {label} here.")
                made = rows.read(tables[label], held)
                rows.put(tables[label], made)
                counts[label] += len(made)
            elif kind == "files":
                store(rest, held, stored)
            elif member.name == MANIFEST:
                manifest = json.loads(held)
    if manifest is None or manifest["form"] != FORM:
        raise Refused("This is no whole backup: it is cut off, or not one of ours.")
    wanted = {label: count for label, count in manifest["tables"].items() if count}
    if wanted != dict(counts) or manifest["files"] != len(stored):
        raise Refused("This backup does not hold what its list says.")
    rows.go_on_counting()
    return Held(datetime.fromisoformat(manifest["made_at"]), manifest["tables"], len(stored))


def store(name: str, held: bytes, stored: list[str]) -> None:
    """Only what a row names, unchanged, and where it was."""
    document = Document.objects.filter(file=name, erased_at=None).first()
    if document is None or hashlib.sha256(held).hexdigest() != document.sha256:
        raise Refused(f"The file {name[:200]} is not the one that its document names.")
    stored.append(default_storage.save(name, ContentFile(held)))
    if stored[-1] != name:
        raise Refused(f"There is a file {name} already: a backup is restored into an empty place only.")


def _to_disk(part: Path) -> None:
    handle = os.open(part, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def name_of(at: datetime, passphrase: str) -> str:
    kind = "sealed.tar" if passphrase else "tar.gz"
    return f"backup-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}.{kind}"


def backups_in(folder: Path) -> list[Path]:
    """The newest first."""
    return sorted(folder.glob("backup-*Z.*tar*"), reverse=True) if folder.is_dir() else []
