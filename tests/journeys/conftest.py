"""A browser of two sizes, and what the practice has set up before anybody asks for it."""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import time, timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Playwright

from backoffice.access.models import User
from clients.kit.models import Machine
from clients.paperwork.actions import add_starter_wordings, record_law
from clients.paperwork.models import Wording
from clients.plans.actions import add_starter_guidelines
from clients.plans.models import Service
from clients.visits.models import Visit
from tests.factories.backoffice import BusinessFactory, UserFactory
from tests.factories.clients import ApplicatorFactory, FormFactory, MachineFactory
from tests.factories.paperwork import ready_animal, version_of
from tests.factories.quotes import worked_prices
from tests.factories.rounds import booked_visit, near_barn
from tests.journeys.barn_phone import BarnPhone
from tests.journeys.walk import Walk

os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # Playwright keeps an event loop running in the thread

SIZES = {"phone": {"width": 390, "height": 844}, "laptop": {"width": 1280, "height": 800}}
PASSWORD = "a long sentence for one test only"


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict) -> dict:
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no chromium on this machine")
    return {**browser_type_launch_args, "executable_path": chromium, "args": ["--no-sandbox"]}


@pytest.fixture(scope="session")
def base_url() -> None:
    """Replaces the plugin's own, whose form warns under a current pytest; pages are opened by full address."""


@pytest.fixture(autouse=True)
def blank_paper() -> None:
    """Replaces the suite's own: whoever walks a journey sees each paper as it is drawn."""


@pytest.fixture(params=list(SIZES))
def size(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture
def new_walk(live_server, settings, request, size, new_context) -> Callable[[], Walk]:
    """Makes somebody new at a screen: no cookie of anybody else's."""
    settings.PUBLIC_ADDRESS = live_server.url
    folder = request.config.getoption("--pictures")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)

    def make() -> Walk:
        context = new_context(
            viewport=SIZES[size], locale="en-US", timezone_id="America/Denver", reduced_motion="reduce"
        )
        context.set_default_timeout(30_000)
        judges = not request.config.getoption("--database-only")
        pictures = Path(folder) if folder else None
        return Walk(context, home=live_server.url, size=size, judges=judges, pictures=pictures)

    return make


@pytest.fixture
def practice(transactional_db, private_folder) -> User:
    """Services, prices, guidelines, wordings, the law as it was found, and a machine; the owner-manager is given."""
    at = timezone.now()
    BusinessFactory(phone="+1 303 555 0100")
    manager = UserFactory(username="holt", first_name="Marta", last_name="Holt-Adair")
    manager.set_password(PASSWORD)
    manager.save()
    worked_prices()
    add_starter_guidelines(at=at, by=manager)
    add_starter_wordings(at=at, by=manager)
    for uses_machine in (True, False):
        record_law(
            place="Colorado", uses_machine=uses_machine, rule="free", source="An invented letter", at=at, by=manager
        )
    MachineFactory(name="Machine 1", inspection_due=timezone.localdate() + timedelta(days=200))
    ApplicatorFactory(name="Large loop")
    return manager


@pytest.fixture
def visits(practice: User) -> list[Visit]:
    """Three horses at one barn, today; the terms of the first are still to be signed."""
    today = timezone.localdate()
    barn = near_barn(name="Copper Hasp", note="Code 4417; the loose dog is friendly.")
    machine, full = Machine.objects.get(), Service.objects.get(kind="full")
    made = []
    for n, name in enumerate(("Ember Day", "Bramble", "Quill")):
        animal = ready_animal(asked_on=today, name=name, barn=barn)
        owner = animal.ownerships.get().person
        FormFactory(animal=animal, signer=owner, wording_version=version_of(Wording.Kind.TERMS), signed=True)
        made.append(booked_visit(practice, animal=animal, day=today, starts=time(9 + n), machine=machine, service=full))
    return made


@pytest.fixture
def phones(playwright: Playwright, live_server, settings, tmp_path: Path) -> Iterator[Callable[..., BarnPhone]]:
    """Makes phones of the practice: each signed in, the day taken along."""
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no chromium on this machine")
    made: list[BarnPhone] = []

    def make(person: User, *, home: str = live_server.url) -> BarnPhone:
        settings.PUBLIC_ADDRESS = home
        phone = BarnPhone(playwright, tmp_path / f"phone-{len(made)}", chromium, home)
        made.append(phone)
        phone.sign_in(person.username, PASSWORD)
        phone.take_along()
        return phone

    yield make
    for phone in made:
        phone.close()
