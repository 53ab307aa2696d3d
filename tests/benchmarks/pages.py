"""How fast each list and main page answers in the demo: `uv run python -m tests.benchmarks.pages`.

The owner-manager asks; server time is the median of five after one to warm up, the slowest page stands last.
"""

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any, NamedTuple

import django

TIMES = 5
LIMIT_MS = 100
LISTS = (
    "backoffice:today",
    "backoffice:search",
    "backoffice:papers",
    "backoffice:settings",
    "backoffice:team",
    "clients:diary",
    "clients:diary-month",
    "clients:animals",
    "clients:people",
    "clients:barns",
    "clients:vet-practices",
    "clients:machines",
    "clients:applicators",
    "clients:paperwork",
    "clients:forms",
    "clients:wordings",
    "clients:laws",
    "clients:services",
    "clients:guidelines",
    "billing:quotes",
    "billing:money",
    "billing:uncharged",
    "billing:invoices",
    "billing:payments",
    "billing:payers",
    "billing:prices",
    "billing:bank-file",
    "billing:bank-lines",
    "billing:bank-takings",
    "billing:reminders",
    "billing:expenses",
    "billing:month-end",
    "billing:tax-period",
    "billing:year-report",
    "billing:mileage",
)


class Answer(NamedTuple):
    name: str
    milliseconds: float
    queries: int


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "backoffice.settings.demo")
    django.setup()
    from django.conf import settings
    from django.test import Client

    from backoffice.access.models import User
    from backoffice.access.powers import Role

    if not Path(settings.DATABASES["default"]["NAME"]).exists():
        sys.exit("The demo is not built yet: uv run manage.py demo --no-serve")
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(User.objects.filter(role=Role.OWNER_MANAGER, is_active=True).earliest("pk"))
    answers = sorted((measured(client, name, path) for name, path in pages()), key=lambda each: each.milliseconds)
    print(f"{'page':<26}{'ms':>6}{'queries':>9}")
    for name, milliseconds, queries in answers:
        print(f"{name:<26}{milliseconds:>6.0f}{queries:>9}{'  SLOW' if milliseconds > LIMIT_MS else ''}")


def measured(client: Any, name: str, path: str) -> Answer:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        seconds(client, path)
    count = len(queries)
    return Answer(name, 1000 * median(seconds(client, path) for _ in range(TIMES)), count)


def seconds(client: Any, path: str) -> float:
    begun = perf_counter()
    response = client.get(path)
    taken = perf_counter() - begun
    if response.status_code != 200:
        sys.exit(f"{path} answers {response.status_code}.")
    return taken


def pages() -> Iterator[tuple[str, str]]:
    from django.urls import reverse

    for name in LISTS:
        yield name.split(":")[1], reverse(name)
    yield "search for a word", reverse("backoffice:search") + "?q=a"
    yield from busy_rows()


def busy_rows() -> Iterator[tuple[str, str]]:
    """One page of each kind, of the row with the most behind it."""
    from django.db.models import Count
    from django.urls import reverse
    from django.utils import timezone

    from billing.invoices.models import Invoice
    from billing.payments.models import Payment
    from billing.quotes.models import Quote
    from clients.animals.models import Animal
    from clients.paperwork.models import Form
    from clients.people.models import Barn, Person
    from clients.plans.models import Plan
    from clients.rounds.models import DayRound
    from clients.visits.models import Visit

    most: tuple[tuple[str, Any, str], ...] = (
        ("clients:animal", Animal, "visits"),
        ("clients:person", Person, "ownerships"),
        ("clients:barn", Barn, "animals"),
        ("clients:plan", Plan, "visits"),
        ("clients:round", DayRound, "stops"),
        ("billing:quote", Quote, "options"),
        ("billing:invoice", Invoice, "lines"),
    )
    for name, model, behind in most:
        row = model.objects.annotate(behind=Count(behind)).order_by("-behind", "pk").first()
        yield name.split(":")[1], row.get_absolute_url()
    yield "form", Form.objects.latest("pk").get_absolute_url()
    yield "payment", Payment.objects.latest("pk").get_absolute_url()
    yield "visit, completed", Visit.objects.filter(status="completed").latest("day", "pk").get_absolute_url()
    booked = Visit.objects.filter(status="booked", day__lte=timezone.localdate()).order_by("-day", "pk").first()
    booked = booked or Visit.objects.filter(status="booked").earliest("day", "pk")
    yield "visit, booked", booked.get_absolute_url()
    yield "visit-sheet", reverse("clients:visit-sheet", args=[booked.pk])


if __name__ == "__main__":
    main()
