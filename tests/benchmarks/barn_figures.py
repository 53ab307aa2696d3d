"""What `tests.benchmarks.barn` runs: figures of the page in the barn, by the fixtures of the journeys."""

import gzip
import os
import random
from datetime import time
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from django.contrib.staticfiles import finders
from django.core.files import File
from django.test import Client
from django.utils import timezone

from backoffice.access.models import User
from backoffice.ui.static_storage import HashedFiles
from clients.barnside import shell
from clients.barnside.models import BarnEvent
from clients.kit.models import Machine
from clients.paperwork.models import Wording
from clients.plans.models import Service
from clients.visits.models import Visit
from tests.clients.barnside.entries import PHONE_KEY
from tests.factories.clients import CautionFactory, FormFactory
from tests.factories.paperwork import ready_animal, version_of
from tests.factories.rounds import booked_visit, near_barn
from tests.journeys.barn_phone import BarnPhone
from tests.journeys.test_offline import sign_in_again, work

KILLS = "BARN_KILLS"
ENTRIES = 500
SLOWER = 4
TIMES = 5


def say(what: str, figure: object) -> None:
    print(f"{what:<58}{figure:>16}", flush=True)


@pytest.mark.usefixtures("business")
def test_weight(tmp_path: Path, client: Client) -> None:
    storage = HashedFiles(location=tmp_path, base_url="/static/")
    bodies = {}
    for name in shell.files():
        with Path(str(finders.find(name))).open("rb") as file:
            kept = storage.save(name, File(file))
        bodies[name] = Path(storage.path(kept)).read_bytes()
    scripts = sum(len(body) for name, body in bodies.items() if name.endswith(".js"))
    page = client.get("/barn/").content
    wire = sum(_on_the_wire(name, body) for name, body in {**bodies, "page.html": page}.items())
    say("Scripts before compression (limit 60 kB)", f"{scripts / 1000:.1f} kB")
    say("The whole shell over the wire (limit 250 kB)", f"{wire / 1000:.1f} kB")


def _on_the_wire(name: str, body: bytes) -> int:
    """Pictures go as they are, the rest by gzip."""
    return len(body) if name.endswith(".png") else len(gzip.compress(body))


@pytest.mark.usefixtures("private_folder")
def test_a_full_day(practice: User) -> None:
    barns = [near_barn(name=f"Barn {n}") for n in range(12)]
    for n in range(30):
        animal = ready_animal(asked_on=timezone.localdate(), name=f"Horse {n}", barn=barns[n % 12])
        owner = animal.ownerships.get().person
        FormFactory(animal=animal, signer=owner, wording_version=version_of(Wording.Kind.TERMS))
        CautionFactory(animal=animal)
        booked_visit(
            practice,
            animal=animal,
            day=timezone.localdate(),
            starts=time(7 + n // 3, 20 * (n % 3)),
            machine=Machine.objects.get(),
            service=Service.objects.get(kind="full"),
        )
    client = Client()
    client.force_login(practice)
    begun = perf_counter()
    pack = client.get("/barn/pack/", HTTP_X_PHONE=str(PHONE_KEY)).content
    say("A day of 12 stops and 30 horses, uncompressed (limit 1 MB)", f"{len(pack) / 1000:.0f} kB")
    say("  made in", f"{(perf_counter() - begun) * 1000:.0f} ms")


def test_speed(practice: User, visits: list[Visit], phones) -> None:
    phone: BarnPhone = phones(practice)
    phone.lose_signal()
    for n in range(ENTRIES):
        phone.note("how", visits[0].pk, {"note": f"Line {n}"})
    begun = perf_counter()
    phone.send()
    phone.wait_until_sent()
    taken = perf_counter() - begun
    assert BarnEvent.objects.count() == ENTRIES
    say(f"{ENTRIES} entries sent and answered (limit 5 s)", f"{taken:.2f} s")
    phone.lose_signal()
    session = phone.context.new_cdp_session(phone.page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    found = [_open_sheet(phone, visits[1]) for _ in range(TIMES)]
    say(f"Sheet from the phone's store, processor {SLOWER} times slower (1 s)", f"{median(found):.2f} s")


def _open_sheet(phone: BarnPhone, visit: Visit) -> float:
    phone.page.goto("about:blank")
    begun = perf_counter()
    phone.page.goto(f"{phone.home}/barn/#/visit/{visit.pk}", wait_until="commit")
    phone.page.locator("#arrival-is_dry").wait_for()
    return perf_counter() - begun


def test_taps(practice: User, visits: list[Visit], phones) -> None:
    phone: BarnPhone = phones(practice)
    phone.lose_signal()
    phone.open()
    phone.tap("Copper Hasp")
    phone.tap("All of it is so")
    say("Taps for an ordinary horse, the most of three (aim 10)", max(work(phone, visit) for visit in visits))


def test_kills(practice: User, visits: list[Visit], phones) -> None:
    kills, chance = int(os.environ.get(KILLS, "100")), random.Random()
    phone: BarnPhone = phones(practice)
    for number in range(1, kills + 1):
        phone.lose_signal()
        phone.open()
        phone.note_until_killed(visits[0].pk, chance.uniform(0.02, 0.6))
        phone.start()
        if number % 25 == 0:
            say("  killed so far", number)
    phone.open()
    lost = set(phone.confirmed) - set(phone.kept())
    sign_in_again(phone, practice)
    phone.wait_until_sent()
    rows = [str(pk) for pk in BarnEvent.objects.values_list("pk", flat=True)]
    say("Moments of a killed browser tried", kills)
    say("Entries that said “kept”", len(set(phone.confirmed)))
    say("  of them lost on the phone", len(lost))
    say("  of them not at the office", len(set(phone.confirmed) - set(rows)))
