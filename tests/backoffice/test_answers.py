"""Who gets past the door of every view: the table is `answers.csv`, and each of its cells is asked for here.

- in: past the door, whatever was found there
- no: this person may not
- sign in: led to the sign-in page
- closed: the one page that says nothing, for a link that is not good

After a deliberate change, write the table anew with `ANSWERS=write uv run pytest tests/backoffice/test_answers.py`, and
read the difference before it is committed.
"""

import csv
import os
from collections.abc import Iterator
from datetime import timedelta
from http.cookies import SimpleCookie
from pathlib import Path
from uuid import UUID

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from backoffice.access.powers import Role
from backoffice.links.actions import issue_link
from backoffice.links.models import PrivateLink
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory
from tests.factories.billing import issued_invoice
from tests.factories.clients import FormFactory
from tests.factories.paperwork import ready_animal, referral_for
from tests.factories.quotes import offered

TABLE = Path(__file__).with_name("answers.csv")
COLUMNS = ("stranger", "link holder", *(role.value for role in Role))
PLAIN = {"IntConverter": 1, "StringConverter": "2026-03-02", "SlugConverter": "none", "UUIDConverter": UUID(int=1)}
PURPOSES = {
    "owner-form": PrivateLink.Purpose.FORM,
    "vet-referral": PrivateLink.Purpose.REFERRAL,
    "calendar-feed": PrivateLink.Purpose.CALENDAR,
    "owner-money": PrivateLink.Purpose.MONEY,
    "owner-quote": PrivateLink.Purpose.QUOTE,
    "account-choose": PrivateLink.Purpose.ACCOUNT,
}
pytestmark = pytest.mark.django_db


def views_of(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    """The full name of each view, with its pattern."""
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from views_of(pattern, pattern.namespace or space)
        else:
            yield f"{space}:{pattern.name}", pattern


def address_of(name: str, pattern: URLPattern, token: str) -> str:
    values = {key: PLAIN[type(converter).__name__] for key, converter in pattern.pattern.converters.items()}
    return reverse(name, kwargs={**values, **({"token": token} if "token" in values else {})})


def answer(client: Client, address: str) -> str:
    """Asked to show it; where it only takes something, asked to take nothing."""
    kept = dict(client.cookies)
    with transaction.atomic():
        got = client.get(address)
        if got.status_code == 405:
            got = client.post(address)
        if hasattr(got, "streaming_content"):
            got.getvalue()
        transaction.set_rollback(True)
    client.cookies = SimpleCookie({name: each.value for name, each in kept.items()})  # nobody is signed out for good
    if got.status_code == 302 and got["Location"].startswith(reverse("backoffice:sign-in")):
        return "sign in"
    if got.status_code == 404 and "This link does not open" in got.content.decode(errors="replace"):
        return "closed"
    return "no" if got.status_code == 403 else "in"


@pytest.fixture
def tokens(owner_manager, private_folder) -> dict[str, str]:
    """A good token for each purpose."""
    horse = ready_animal()
    owner = horse.ownerships.get().person
    quote, _ = offered([horse], owner_manager)
    issued_invoice(owner, owner_manager)
    targets = {
        PrivateLink.Purpose.FORM: FormFactory(animal=horse, signer=owner),
        PrivateLink.Purpose.REFERRAL: referral_for(horse),
        PrivateLink.Purpose.CALENDAR: owner_manager,
        PrivateLink.Purpose.MONEY: owner,
        PrivateLink.Purpose.QUOTE: quote,
        PrivateLink.Purpose.ACCOUNT: owner_manager,
    }
    good = {"at": timezone.now(), "valid_for": timedelta(days=1), "by": owner_manager}
    return {purpose: issue_link(purpose=purpose, target=target, **good)[1] for purpose, target in targets.items()}


@pytest.fixture
def asked(tokens, business) -> list[dict[str, str]]:
    people = {
        "stranger": Client(REMOTE_ADDR="192.0.2.1"),
        "link holder": Client(REMOTE_ADDR="192.0.2.2"),
        **{role.value: signed_in(UserFactory(role=role)) for role in Role},
    }
    rows = []
    for name, pattern in sorted(views_of(get_resolver()), key=lambda view: view[0]):
        purpose = next((PURPOSES[key] for key in PURPOSES if f":{key}" in name), None)
        row = {"view": name}
        for column, client in people.items():
            token = tokens[purpose] if purpose and column != "stranger" else "wrong"
            row[column] = answer(client, address_of(name, pattern, token))
        rows.append(row)
    return rows


def test_every_view_answers_as_the_table_says(asked):
    if os.environ.get("ANSWERS") == "write":
        with TABLE.open("w", newline="") as file:
            writer = csv.DictWriter(file, ("view", *COLUMNS), lineterminator="\n")
            writer.writeheader()
            writer.writerows(asked)
    with TABLE.open(newline="") as file:
        wanted = {row["view"]: row for row in csv.DictReader(file)}
    assert {row["view"]: row for row in asked} == wanted


def test_the_table_itself_is_safe():
    """A stranger sees nothing but the way in; a private link opens its own pages and nothing of the office."""
    with TABLE.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 300
    signing_in = {f"backoffice:{name}" for name in ("sign-in", "passkey-question", "passkey-answer", "icon", "health")}
    way_in = signing_in | {f"clients:barn-{name}" for name in ("shell", "keeper", "manifest")}
    for row in rows:
        of_link = any(f":{key}" in row["view"] for key in PURPOSES)
        assert row["stranger"] == ("closed" if of_link else "in" if row["view"] in way_in else "sign in"), row
        assert row["link holder"] == ("in" if of_link else row["stranger"]), row
        assert row[Role.OWNER_MANAGER.value] in ("in", "sign in"), row
