"""A stream of bytes into a file that only a passphrase opens: `age` (age-encryption.org/v1), so that other tools open
it too. The file is a tar of two: `key.age`, a fresh key under the passphrase; `backup.age`, the content under the key.
"""

import os
import tarfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from io import BytesIO
from pathlib import Path
from threading import Thread
from typing import IO

from backoffice.refusal import Refused

KEY, CONTENT = "key.age", "backup.age"


@contextmanager
def sealed(path: Path, passphrase: str) -> Iterator[IO[bytes]]:
    """A stream to write into: it is encrypted on its way, no plain byte touches the disk."""
    import pyrage

    identity = pyrage.x25519.Identity.generate()
    key = pyrage.passphrase.encrypt(str(identity).encode(), passphrase)
    part = path.with_name(f"{path.name}.content")
    try:
        with part.open("wb") as out:
            reading, writing = os.pipe()

            def encrypt() -> None:
                with os.fdopen(reading, "rb") as stream:
                    pyrage.encrypt_io(stream, out, [identity.to_public()])

            with _beside(encrypt), os.fdopen(writing, "wb") as stream:
                yield stream
        with tarfile.open(path, "w") as outer:
            told = tarfile.TarInfo(KEY)
            told.size = len(key)
            outer.addfile(told, BytesIO(key))
            outer.add(part, CONTENT)
    finally:
        part.unlink(missing_ok=True)


def is_sealed(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(KEY)) == KEY.encode()


@contextmanager
def opened(path: Path, passphrase: str) -> Iterator[IO[bytes]]:
    """The content as a stream. Refuses a wrong passphrase, and a file that was changed."""
    import pyrage

    with tarfile.open(path, "r:") as outer:
        try:
            key = pyrage.passphrase.decrypt(_member(outer, KEY).read(), passphrase)
        except pyrage.DecryptError as wrong:
            raise Refused("The passphrase does not open this backup.") from wrong
        identity = pyrage.x25519.Identity.from_str(key.decode())
        content = _member(outer, CONTENT)
        reading, writing = os.pipe()

        def decrypt() -> None:
            with os.fdopen(writing, "wb") as out, suppress(BrokenPipeError):  # nobody reads on: that side tells why
                try:
                    pyrage.decrypt_io(content, out, [identity])
                except pyrage.DecryptError as wrong:
                    raise Refused("This backup is damaged: it was changed or cut off.") from wrong

        with _beside(decrypt), os.fdopen(reading, "rb") as stream:
            yield stream


def _member(outer: tarfile.TarFile, name: str) -> IO[bytes]:
    found = outer.extractfile(name)
    if found is None:
        raise Refused("This is no backup: a part is missing.")
    return found


@contextmanager
def _beside(work: Callable[[], None]) -> Iterator[None]:
    """Work in a thread of its own; what fails there is raised here."""
    failed: list[BaseException] = []

    def run() -> None:
        try:
            work()
        except BaseException as wrong:  # noqa: BLE001  (raised again below)
            failed.append(wrong)

    thread = Thread(target=run)
    thread.start()
    try:
        yield
    finally:
        thread.join()
        if failed:
            raise failed[0]
