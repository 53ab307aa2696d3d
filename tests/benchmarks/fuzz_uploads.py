"""Hostile uploads and form posts: `uv run python -m tests.benchmarks.fuzz_uploads [how many] [seed]`.

Half are files (valid ones mutated, noise, two kinds at once, odd names) sent with a form that is otherwise right, half
are absurd posts to the pages where paper is signed, brought in or written. Prints counts. What must not be is a fault:
an answer of 500, a file stored although refused, a stored file that carries what it must not, something kept of an
absurd post.
"""

import json
import logging
import os
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from time import perf_counter
from typing import Any

import django

HARMFUL = (b"<script", b"<svg", b"/JavaScript", b"/Launch", b"/EmbeddedFile", b"PK\x05\x06", b"<?php")
PAYLOADS = (b"<script>alert(1)</script>", b"<svg onload='x()'/>", b"<?php echo 1; ?>", b"MZ\x90\x00", b"\x7fELF")
NAMES = (
    "scan.pdf",
    "scan.jpg",
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "scan.php",
    "scan.pdf.exe",
    ".htaccess",
    "<script>alert(1)</script>.jpg",
    "scan\x00.pdf",
    "%2e%2e%2fscan.pdf",
    "\u202efdp.scan",
    "x" * 400 + ".pdf",
    "con",
    "scan",
)
TYPES = ("application/pdf", "image/jpeg", "text/html", "image/svg+xml", "application/x-msdownload", "x", "")
ABSURD = (
    "",
    " ",
    "-1",
    "0",
    "1e309",
    "NaN",
    "9" * 400,
    "9999-12-31",
    "0000-00-00",
    "<script>alert(1)</script>",
    "' OR 1=1 --",
    "\x00",
    "\u202e",
    "ليلى 🐴",
    "{{ 7*7 }}",
    "[[[0,0],[1e400,1]]]",
    "[" * 3000,
    "x" * 50_000,
)
FIELDS = (
    "capacity", "name_typed", "strokes", "read", "electronic", "scan", "signed_on", "answer", "service_kinds",
    "max_minutes", "conditions", "since", "until", "vet_name", "registration_number", "examined_on", "is_vet",
    "confirmed", "confirmed_note", "version", "signer", "animal", "barn", "agent", "cap", "practice", "asked",
    "photo", "kind", "issuer", "number", "holder", "uses_machine", "place", "happened_at", "what", "present", "done",
    "vet_said", "on", "buyer", "name", "phone", "email",
)  # fmt: skip


@dataclass(slots=True)
class Fuzz:
    """`answers` counts answers by kind of case; `faults` are sentences, none if all is well."""

    client: Any
    folder: Path
    chance: random.Random
    good: list[bytes]
    bad: list[bytes]
    uploads: list[tuple[str, str, dict[str, str]]]
    posts: list[str]
    is_untouched: Callable[[], bool]
    answers: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def run(self, count: int) -> "Fuzz":
        for number in range(count):
            if number % 2:
                self._post()
            else:
                self._upload()
        return self

    def _upload(self) -> None:
        from django.core.files.uploadedfile import SimpleUploadedFile

        make = self.chance.choice([self._noise, self._mutated, self._mutated, self._two_at_once, self._known_bad])
        files = [make() for _ in range(self.chance.choice([1, 1, 1, 2]))]
        address, name, fields = self.chance.choice(self.uploads)
        scan = [SimpleUploadedFile("x", content, content_type=self.chance.choice(TYPES)) for content in files]
        for one in scan:
            one._name = self.chance.choice(NAMES)  # past Django's own cleaning, as a hostile client would send it
        self._send(f"file, {make.__name__.strip('_').replace('_', ' ')}", address, {**fields, name: scan})

    def _post(self) -> None:
        names = self.chance.sample(FIELDS, self.chance.randint(0, len(FIELDS)))
        typed = {name: [self._absurd() for _ in range(self.chance.choice([1, 1, 3]))] for name in names}
        self._send("absurd post", self.chance.choice(self.posts), typed, may_pass=False)

    def _absurd(self) -> str:
        if self.chance.random() < 0.2:
            return "".join(chr(self.chance.randint(0, 0x2FFF)) for _ in range(self.chance.randint(1, 80)))
        return self.chance.choice(ABSURD)

    def _send(self, kind: str, address: str, typed: dict[str, Any], *, may_pass: bool = True) -> None:
        from tests.crawl import rolled_back

        typed = {name: _sendable(value) for name, value in typed.items()}
        with rolled_back():
            answer = self.client.post(address, typed)
            passed = answer.status_code == 302
            self.answers[f"{kind}: {'kept' if passed else answer.status_code}"] += 1
            if answer.status_code >= 500:
                self.faults.append(f"{kind} to {address}: {answer.status_code}")
            if not passed and not self.is_untouched():
                self.faults.append(f"{kind} to {address}: refused, and yet something was kept")
            if passed and not may_pass:
                self.faults.append(f"{kind} to {address}: kept")
            stored = [file for file in self.folder.rglob("*") if file.is_file()]
            if bool(stored) != passed:
                self.faults.append(f"{kind} to {address}: {answer.status_code} and {len(stored)} files")
            for file in stored:
                self._look_at(file, kind)
                file.unlink()

    def _look_at(self, file: Path, kind: str) -> None:
        content = file.read_bytes()
        if not _opens(content, file.suffix):
            self.faults.append(f"{kind}: a stored {file.suffix} does not open")
        if any(sign in content for sign in HARMFUL) or len(file.stem) != 32:
            self.faults.append(f"{kind}: stored as {file.name} with something harmful inside")

    def _noise(self) -> bytes:
        head = self.chance.choice([b"", b"%PDF-1.7\n", b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"RIFF0000WEBPVP8 "])
        return head + self.chance.randbytes(self.chance.randint(0, 3000)) + self.chance.choice([b"", b"\n%%EOF"])

    def _mutated(self) -> bytes:
        content = bytearray(self.chance.choice(self.good))
        for _ in range(self.chance.randint(0, 12)):
            at = self.chance.randrange(len(content))
            way = self.chance.randrange(5)
            if way == 0:
                content[at] ^= 1 << self.chance.randrange(8)
            elif way == 1:
                del content[at : at + self.chance.randint(1, 30)]
            elif way == 2:
                content[at:at] = self.chance.randbytes(self.chance.randint(1, 30))
            elif way == 3:
                content[at:at] = content[at : at + self.chance.randint(1, 200)]
            else:
                content[at : at + 4] = self.chance.choice([b"9999", b"-1  ", b"/JS ", b"\0\0\0\0", b"\xff\xff\xff\xff"])
            content = content or bytearray(b"x")
        return bytes(content)

    def _two_at_once(self) -> bytes:
        parts = [self.chance.choice(self.good), self.chance.choice([*PAYLOADS, *self.bad, *self.good])]
        self.chance.shuffle(parts)
        return b"".join(parts)

    def _known_bad(self) -> bytes:
        return self.chance.choice(self.bad)


def _sendable(value: Any) -> Any:
    """Text as a client can send it at all."""
    if isinstance(value, list):
        return [_sendable(one) for one in value]
    return value.encode("utf-8", "replace").decode() if isinstance(value, str) else value


def _opens(content: bytes, suffix: str) -> bool:
    import pypdf
    from PIL import Image

    if suffix == ".jpg":
        with Image.open(BytesIO(content), formats=["JPEG"]) as picture:
            picture.load()
            return not dict(picture.getexif())
    return suffix == ".pdf" and content.startswith(b"%PDF-") and len(pypdf.PdfReader(BytesIO(content)).pages) <= 41


def made_ready(folder: Path, *, seed: int) -> Fuzz:
    """A form to sign and a vet's request that waits, in whatever database is open, and the files to start from."""
    from django.test import Client
    from django.urls import reverse
    from django.utils import timezone

    from backoffice.access.models import User
    from backoffice.access.powers import Role
    from clients.animals.models import Animal
    from clients.incidents.models import Incident
    from clients.paperwork.models import Form, VetReferral
    from clients.paperwork.own_models import OwnPaper
    from clients.paperwork.referring import link_to_answer
    from clients.paperwork.signing import link_to_sign
    from tests import uploads
    from tests.factories.backoffice import BusinessFactory, UserFactory
    from tests.factories.clients import FormFactory
    from tests.factories.paperwork import ready_animal, referral_for

    BusinessFactory()
    manager: User = UserFactory(username="wren", role=Role.OWNER_MANAGER)
    horse = ready_animal(name="Biscuit")
    form = FormFactory(animal=horse, signer=horse.ownerships.get().person)
    referral = referral_for(horse, answer="waiting", answered_on=None, since=None, until=None)
    at, today = timezone.now(), timezone.localdate().isoformat()
    owner_token = link_to_sign(form=form, at=at, by=manager)
    vet_token = link_to_answer(referral=referral, at=at, by=manager)
    on_paper = reverse("clients:form-on-paper", args=[form.pk])
    letter = reverse("clients:referral-letter", args=[referral.pk])
    own_paper, photo = reverse("clients:own-paper-new"), reverse("clients:animal-photo", args=[horse.pk])
    insured = {"kind": "insurance", "issuer": "Prairie Mutual (invented)", "since": today, "until": today}
    signed = {"capacity": "owner", "name_typed": form.signer.name, "signed_on": today}
    answered = {
        "answer": "yes",
        "since": today,
        "until": today,
        "vet_name": "Dr. Ada Lindqvist",
        "registration_number": "CO-4471",
        "examined_on": today,
        "confirmed": "call_back",
    }
    client = Client(raise_request_exception=False)
    client.force_login(manager)
    return Fuzz(
        client=client,
        folder=folder,
        chance=random.Random(seed),
        good=[uploads.photo(kind) for kind in ("JPEG", "PNG", "WEBP")] + [uploads.pdf(pages=2)],
        bad=[
            b"",
            *PAYLOADS,
            uploads.pdf_with_script(),
            uploads.pdf_with_hidden_script(),
            uploads.pdf_with_files(),
            uploads.pdf_with_launch(),
            uploads.pdf_with_huge_picture(),
            uploads.pdf_bomb(unpacked=1 << 24, twice=True),
            uploads.pdf(password="x"),
            uploads.pdf(pages=41),
            uploads.photo("PNG", size=(9000, 6000)),
        ],
        uploads=[
            (on_paper, "scan", signed),
            (letter, "scan", answered),
            (own_paper, "scan", insured),
            (photo, "photo", {}),
        ],
        posts=[
            on_paper,
            letter,
            own_paper,
            photo,
            reverse("clients:incident-new"),
            reverse("clients:animal-sold", args=[horse.pk]),
            reverse("clients:animal-died", args=[horse.pk]),
            reverse("clients:form-sign", args=[form.pk]),
            reverse("clients:form-new"),
            reverse("clients:referral-new", args=[horse.pk]),
            reverse("clients:owner-form", args=[owner_token]),
            reverse("clients:vet-referral", args=[vet_token]),
            reverse("clients:owner-form", args=["guessed" * 6]),
        ],
        is_untouched=lambda: (
            list(Form.objects.filter(state=Form.State.TO_SIGN)) == [form]
            and VetReferral.objects.get().answer == VetReferral.Answer.WAITING
            and not (OwnPaper.objects.exists() or Incident.objects.exists())
            and Animal.objects.filter(pk=horse.pk, photo=None, died_on=None, ownerships=horse.ownerships.get()).exists()
        ),
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "backoffice.settings.test")
        django.setup()
        from django.conf import settings
        from django.test.utils import setup_databases, setup_test_environment

        logging.disable()
        setup_test_environment()
        setup_databases(verbosity=0, interactive=False)
        kept = settings.STORAGES["default"]
        settings.STORAGES = {**settings.STORAGES, "default": {**kept, "OPTIONS": {"location": folder}}}
        start = perf_counter()
        fuzz = made_ready(Path(folder), seed=seed).run(count)
        print(json.dumps(dict(sorted(fuzz.answers.items())), indent=2))
        print(f"{count} sent in {perf_counter() - start:.0f} s, {len(fuzz.faults)} faults")
        print("\n".join(fuzz.faults[:20]))
    sys.exit(bool(fuzz.faults))


if __name__ == "__main__":
    main()
