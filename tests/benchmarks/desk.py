"""The desk of a ten-year business: `uv run python -m tests.benchmarks.desk [--sessions 250000] [--people 20]`.

Every list and Today, the search, a backup, and many people at once over loopback, on SQLite or by `DATABASE_URL` on
PostgreSQL. A database of its own; figures are printed, nothing is judged.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import islice
from pathlib import Path
from statistics import quantiles
from time import perf_counter
from typing import Any

import django

from tests.benchmarks.grow import AT, TenYears

TIMES, ASKS, PORT = 60, 25, 8231
PAUSE_S = 1  # people read what they asked for
LIMIT_MS, SEARCH_MS, AT_ONCE_MS, BACKUP_S = 100, 150, 300, 60
REPORTS = ("week", "earned", "hours", "cadence", "income", "unpaid", "waived", "prepaid")


def say(what: str, figure: object) -> None:
    print(f"{what:<64}{figure:>18}", flush=True)


def set_up(folder: Path) -> dict[str, str]:
    """The environment in which a server of its own reads the same database."""
    mine = {
        "DATABASE_URL": os.environ.get("DATABASE_URL", f"sqlite:///{folder / 'desk.sqlite3'}"),
        "PRIVATE_ROOT": str(folder / "private"),
        "BACKOFFICE_VAR": str(folder),
        "DJANGO_SETTINGS_MODULE": "backoffice.settings.local",
    }
    os.environ.update(mine)
    django.setup()
    from backoffice.upkeep.serving import prepare

    prepare()
    return mine


def grown(sessions: int) -> Any:
    from backoffice.documents.keys import make_key
    from tests.factories.backoffice import BusinessFactory, UserFactory

    BusinessFactory(registration="CO 1", tax_identity="12-3456789")
    make_key(at=AT)
    people = [UserFactory(username=f"person-{number}", role="owner_manager") for number in range(5)]
    began = perf_counter()
    TenYears(sessions, people[0], people).generate()
    say(f"Generated: {sessions} sessions", f"{perf_counter() - began:.0f} s")
    began = perf_counter()
    the_night()
    say("What each night does about it", f"{perf_counter() - began:.1f} s")
    return people[0]


def the_night() -> None:
    """What is finished with is noted; PostgreSQL counts its tables by itself, in its own time."""
    from django.db import connection
    from django.utils import timezone

    from billing.invoices.looking_through import look_through

    look_through(at=timezone.now())
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")


def pages_alone(by: Any) -> None:
    from django.test import Client
    from django.urls import reverse

    import backoffice.wsgi  # noqa: F401  what a server has loaded before its first page
    from tests.benchmarks.pages import LISTS

    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(by)
    span = f"?since={AT.date() - timedelta(days=31)}&until={AT.date()}"
    addresses = [(name, reverse(name), LIMIT_MS) for name in LISTS]
    addresses += [(f"report {name}", reverse("billing:report", args=[name]) + span, LIMIT_MS) for name in REPORTS]
    addresses.append(("trail", reverse("backoffice:trail"), LIMIT_MS))
    addresses.append(("search for “owner 17”", reverse("backoffice:search") + "?q=owner+17", SEARCH_MS))
    told = sorted(_page(client, *each) for each in addresses)
    for late, name, queries, limit in told[-12:]:
        say(f"  {name}, {queries} queries{'' if late <= limit else ', SLOW'}", f"{late:.0f} ms")
    say(f"Pages within their limit, p95 of {TIMES}", f"{sum(t <= limit for t, _, _, limit in told)} of {len(told)}")


def _page(client: Any, name: str, address: str, limit: int) -> tuple[float, str, int, int]:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        answer = client.get(address)
    if answer.status_code != 200:
        sys.exit(f"{name} answers {answer.status_code}.")
    count, took = len(queries), []
    for _ in range(TIMES):
        began = perf_counter()
        client.get(address)
        took.append(1000 * (perf_counter() - began))
    return quantiles(took, n=20)[-1], name, count, limit


def a_backup(folder: Path) -> None:
    from backoffice.upkeep.backup import write_backup

    began = perf_counter()
    held = write_backup(folder / "backup.tar.gz", at=AT)
    took = perf_counter() - began
    say(f"Backup of {held.words} (limit {BACKUP_S} s)", f"{took:.0f} s{'' if took <= BACKUP_S else ', SLOW'}")


def many_at_once(people: int, env: dict[str, str]) -> None:
    """Each asks a list after another, signed in, of the server that the README starts."""
    from django.contrib.auth import login
    from django.contrib.sessions.backends.db import SessionStore
    from django.http import HttpRequest
    from django.urls import reverse

    from backoffice.access.models import User

    asked = HttpRequest()
    asked.session = SessionStore()
    login(asked, User.objects.get(username="person-0"), backend="django.contrib.auth.backends.ModelBackend")
    asked.session.save()
    cookie = f"sessionid={asked.session.session_key}"
    names = ("today", "search")
    addresses = [reverse(f"backoffice:{name}") for name in names]
    addresses += [
        reverse(f"{name}") for name in ("clients:animals", "clients:people", "billing:invoices", "clients:diary")
    ]
    server = subprocess.Popen([sys.executable, "manage.py", "serve", "--port", str(PORT)], env={**os.environ, **env})
    try:
        _wait(cookie)
        with ThreadPoolExecutor(people) as pool:
            told = [each for person in pool.map(lambda n: _ask(n, addresses, cookie), range(people)) for each in person]
    finally:
        server.terminate()
        server.wait(timeout=30)
    wrong = sum(not good for good, _ in told)
    late = quantiles([1000 * took for _, took in told], n=20)[-1]
    say(
        f"{people} people at once, a page a second each, {len(told)} pages: p95",
        f"{late:.0f} ms{'' if late <= AT_ONCE_MS else ', SLOW'}",
    )
    say("  answers that were not 200", wrong)


def _wait(cookie: str) -> None:
    for _ in range(300):
        try:
            _ask(0, ["/health/"], cookie, asks=1)
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.2)
        else:
            return
    sys.exit("The server did not answer.")


def _ask(who: int, addresses: list[str], cookie: str, asks: int = ASKS) -> list[tuple[bool, float]]:
    told = []
    time.sleep(PAUSE_S * (who % 20) / 20)
    for address in islice((addresses * (asks + len(addresses)))[who % len(addresses) :], asks):
        began = perf_counter()
        page = urllib.request.Request(f"http://127.0.0.1:{PORT}{address}", headers={"Cookie": cookie})
        with urllib.request.urlopen(page) as answer:  # noqa: S310  (our own server)
            answer.read()
            told.append((answer.status == 200 and "sign-in" not in answer.url, perf_counter() - began))
        if asks > 1:
            time.sleep(PAUSE_S)
    return told


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=250_000)
    parser.add_argument("--people", type=int, default=20)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="desk-") as name:
        folder = Path(name)
        env = set_up(folder)
        by = grown(asked.sessions)
        pages_alone(by)
        a_backup(folder)
        many_at_once(asked.people, env)


if __name__ == "__main__":
    main()
