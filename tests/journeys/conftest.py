"""A browser of two sizes, and what the practice has set up before anybody asks for it."""

import os
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from backoffice.access.models import User
from clients.paperwork.actions import add_starter_wordings, record_law
from clients.plans.actions import add_starter_guidelines
from tests.factories.backoffice import BusinessFactory, UserFactory
from tests.factories.clients import ApplicatorFactory, MachineFactory
from tests.factories.quotes import worked_prices
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
        return Walk(context, home=live_server.url, size=size, pictures=Path(folder) if folder else None)

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
