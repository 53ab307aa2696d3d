"""Shared fixtures: the business, one person of each role, and a signed-in client for each."""

from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from hashlib import sha256
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from hypothesis import settings

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.business.models import Business
from backoffice.documents import render
from tests.factories.backoffice import BusinessFactory, UserFactory

# A busy machine is no failure of a law.
settings.register_profile("calm", deadline=None)
settings.load_profile("calm")

DRAW = render.pdf_of_html
NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)  # Monday 2 March 2026, 10:00 in Denver


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--pictures", default=None, metavar="DIR", help="Save every page that the journeys visit, in light and dark."
    )
    parser.addoption(
        "--database-only",
        action="store_true",
        help="Leave out the tests that no database sees: pure rules, files, words.",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--database-only"):
        return
    kept = [item for item in items if _sees_a_database(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(kept)])
    items[:] = kept


def _sees_a_database(item: pytest.Item) -> bool:
    asks = {"db", "transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
    return bool(asks) or item.get_closest_marker("django_db") is not None


@pytest.fixture(scope="session", autouse=True)
def no_guest_stays(django_db_setup, django_db_blocker) -> Iterator[None]:
    """Threads of the live server may hold a connection at the end, and PostgreSQL drops no database in use."""
    yield
    with django_db_blocker.unblock():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                    " WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )


@pytest.fixture(autouse=True)
def blank_paper(request, monkeypatch) -> None:
    """Drawing a PDF takes longer than most tests: a blank page stands in for what only a test marked `drawn` reads."""
    if not request.node.get_closest_marker("drawn"):
        monkeypatch.setattr(render, "pdf_of_html", _blank)


def _blank(html: str, *, paper: str, carried: render.Carried | None = None) -> bytes:
    """A PDF of its own for each content: no two papers have the same bytes unless they say the same."""
    return _drawn_once(paper, carried) + b"\n%" + sha256(html.encode()).hexdigest().encode()


@cache
def _drawn_once(paper: str, carried: render.Carried | None) -> bytes:
    return DRAW('<html lang="en"><title>A blank page</title></html>', paper=paper, carried=carried)


@pytest.fixture
def business(db) -> Business:
    return BusinessFactory()


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def owner_manager(business) -> User:
    return UserFactory(username="owner", role=Role.OWNER_MANAGER)


@pytest.fixture
def assistant(business) -> User:
    return UserFactory(username="assistant", role=Role.ASSISTANT)


@pytest.fixture
def bookkeeper(business) -> User:
    return UserFactory(username="bookkeeper", role=Role.BOOKKEEPER, drives_rounds=False)


@pytest.fixture
def private_folder(settings, tmp_path) -> Path:
    """A folder of its own for the files that this test stores."""
    options = {"location": tmp_path, "base_url": None, "file_permissions_mode": 0o600}
    kept = {**settings.STORAGES["default"], "OPTIONS": options}
    settings.STORAGES = {**settings.STORAGES, "default": kept}
    return tmp_path


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def as_owner_manager(owner_manager) -> Client:
    return signed_in(owner_manager)


@pytest.fixture
def as_assistant(assistant) -> Client:
    return signed_in(assistant)


@pytest.fixture
def as_bookkeeper(bookkeeper) -> Client:
    return signed_in(bookkeeper)
