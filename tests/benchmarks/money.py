"""Speed of the money trail: `uv run python -m tests.benchmarks.money [--invoices 500] [--sessions 250000]`.

Issuing beside the bare PDF, a month of invoices in the background, a statement of a thousand moves, and `verify` over
ten years of a business of five. A database of its own; figures are printed, nothing is judged.
"""

import argparse
import os
import resource
import tempfile
from datetime import date
from decimal import Decimal
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import django

from tests.benchmarks.grow import AT, DAY, TenYears

TIMES = 25


def say(what: str, figure: object) -> None:
    print(f"{what:<64}{figure:>18}", flush=True)


def set_up() -> None:
    folder = Path(tempfile.mkdtemp(prefix="money-"))
    os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder / 'money.sqlite3'}")
    os.environ["PRIVATE_ROOT"] = str(folder / "private")
    os.environ["DJANGO_SETTINGS_MODULE"] = "backoffice.settings.test"
    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    if "sqlite3" in settings.DATABASES["default"]["ENGINE"]:
        served = "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
        settings.DATABASES["default"]["OPTIONS"] |= {"init_command": served}
    call_command("migrate", verbosity=0)


def a_business() -> Any:
    from backoffice.documents.keys import make_key
    from tests.factories.backoffice import BusinessFactory, UserFactory

    BusinessFactory(registration="CO 1", tax_identity="12-3456789")
    make_key(at=AT)
    return UserFactory()


def drafts(count: int, by: Any) -> list[Any]:
    """A draft of three lines for each of so many payers."""
    from billing.invoices.actions import confirm_charges, draft_invoices
    from billing.prices.models import TaxRate
    from tests.factories.billing import finished_visit, owned_horse, priced_service
    from tests.factories.clients import PersonFactory

    if not TaxRate.objects.exists():
        TaxRate.objects.create(category="standard", percent=Decimal("7.25"), since=date(2026, 1, 1))
    service = priced_service("95.00")
    for number in range(count):
        payer = PersonFactory(name=f"Payer {number}")
        for _ in range(3):
            finished_visit(owned_horse(payer), service)
    confirm_charges(day=DAY, at=AT, by=by)
    return draft_invoices(at=AT, by=by)


def issuing_beside_the_bare_render(by: Any) -> None:
    """In turns, in one run: issuing a draft with e-invoice, hash and postings; rendering the same paper alone, as the
    library does it by itself, and with our style sheet kept in memory."""
    from backoffice.business.models import Business
    from backoffice.documents.render import _style, render_pdf
    from billing.invoices.actions import issue_invoice
    from billing.invoices.frozen import thawed

    for with_data in (False, True):
        Business.objects.update(e_invoice=with_data)
        whole, bare, kept = [], [], []
        for place, draft in enumerate(drafts(TIMES + 2, by)):
            started = perf_counter()
            issued = issue_invoice(invoice=draft, on=DAY, at=AT, by=by)
            took = perf_counter() - started
            context = {"invoice": thawed(issued.frozen), "pay_code": ""}
            started = perf_counter()
            render_pdf("documents/invoice.html", context)
            alone = perf_counter() - started
            _style.cache_clear()
            started = perf_counter()
            render_pdf("documents/invoice.html", context)
            if place > 1:  # after two to warm up
                whole.append(took)
                kept.append(alone)
                bare.append(perf_counter() - started)
        name = "with its e-invoice" if with_data else "without an e-invoice"
        say(f"Issuing one invoice {name}, median of {TIMES}", f"{1000 * median(whole):.1f} ms")
        say("  the bare PDF of the same, in turns with it", f"{1000 * median(bare):.1f} ms")
        say("  how many times the bare PDF (limit 1.2)", f"{median(whole) / median(bare):.2f}")
        say("  the PDF with its style sheet kept", f"{1000 * median(kept):.1f} ms")
        say("  how many times that", f"{median(whole) / median(kept):.2f}")
    Business.objects.update(e_invoice=False)


def a_month_in_the_background(count: int, by: Any) -> None:
    from billing.invoices.batch import carry_out
    from billing.invoices.models import InvoiceRun

    drafts(count, by)
    run = InvoiceRun.objects.create(on=DAY, total=count, started_at=AT, started_by=by, seen_at=AT)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = perf_counter()
    carry_out(run.pk)
    took = perf_counter() - started
    run.refresh_from_db()
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    say(f"{run.issued} invoices in the background (limit 10 a second)", f"{run.issued / took:.1f} a second")
    say("  peak memory grown meanwhile", f"{grown:.0f} MB")


def a_statement(moves: int = 1000) -> None:
    from billing.journal.models import Account, Posting, Transaction
    from billing.payments.queries import statement_of
    from tests.factories.clients import PersonFactory

    payer = PersonFactory(name="A long account")
    entries = Transaction.objects.bulk_create(
        Transaction(day=DAY, text=f"Move {n}", source="billing.invoice", source_pk=n) for n in range(moves)
    )
    postings = ((entry, sign) for entry in entries for sign in (1, -1))
    Posting.objects.bulk_create(
        Posting(
            transaction=entry,
            account=Account.RECEIVABLE if sign > 0 else Account.INCOME_SESSIONS,
            payer=payer if sign > 0 else None,
            amount=sign * Decimal("95.00"),
        )
        for entry, sign in postings
    )
    times = []
    for _ in range(5):
        started = perf_counter()
        found = statement_of(payer, since=date(2026, 1, 1), until=DAY)
        times.append(perf_counter() - started)
        assert len(found.moves) == moves
    say(f"A statement of {moves} moves (limit 100 ms)", f"{1000 * median(times):.1f} ms")
    Posting.objects.filter(transaction__in=entries).delete()
    Transaction.objects.filter(pk__in=[entry.pk for entry in entries]).delete()


def verify_over_ten_years(sessions: int, by: Any) -> None:
    from backoffice.upkeep.verification import all_checks

    TenYears(sessions, by).generate()
    whole = perf_counter()
    slowest: list[tuple[float, str]] = []
    for check in all_checks():
        started = perf_counter()
        faults = list(check.faults())
        slowest.append((perf_counter() - started, check.name))
        if faults:
            print(f"{check.name}: {len(faults)} faults, such as {faults[0]}")
    say(f"verify over {sessions} sessions (limit 60 s)", f"{perf_counter() - whole:.1f} s")
    for took, name in sorted(slowest, reverse=True)[:4]:
        say(f"  {name}", f"{took:.1f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--invoices", type=int, default=500)
    parser.add_argument("--sessions", type=int, default=250_000)
    asked = parser.parse_args()
    set_up()
    by = a_business()
    issuing_beside_the_bare_render(by)
    a_month_in_the_background(asked.invoices, by)
    a_statement()
    verify_over_ten_years(asked.sessions, by)


if __name__ == "__main__":
    main()
