"""Money under SIGKILL: `uv run python -m tests.benchmarks.kills [--kills 200] [--seed N]`.

A process issues invoices, runs a batch, or takes a bank's file in and books its sure lines; it is killed at a random
moment. Then everything is verified: no half invoice, no gap, no twin. A database of its own, SQLite as it is served, or
the empty PostgreSQL database of KILLS_DATABASE_URL. Ends with status 1 if anything was wrong.
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import django

DAY, AT = date(2026, 3, 2), datetime(2026, 3, 2, 22, 0, tzinfo=UTC)
DRAFTS, PAYERS, LINES = 24, 12, 400
LONGEST = 2.0


def set_up() -> None:
    folder = Path(tempfile.mkdtemp(prefix="kills-"))
    os.environ["DATABASE_URL"] = os.environ.get("KILLS_DATABASE_URL", f"sqlite:///{folder / 'kills.sqlite3'}")
    os.environ["PRIVATE_ROOT"] = str(folder / "private")
    os.environ["DJANGO_SETTINGS_MODULE"] = "backoffice.settings.test"
    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    if "sqlite3" in settings.DATABASES["default"]["ENGINE"]:
        served = "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
        settings.DATABASES["default"]["OPTIONS"] |= {"init_command": served}
    call_command("migrate", verbosity=0)


def people() -> tuple[object, list]:
    from backoffice.documents.keys import make_key
    from tests.factories.backoffice import BusinessFactory, UserFactory
    from tests.factories.clients import PersonFactory

    BusinessFactory()
    make_key(at=AT)
    return UserFactory(), [PersonFactory(name=f"Payer {number}") for number in range(PAYERS)]


def top_up(by: object, payers: list) -> None:
    """Drafts to issue, and open invoices for the bank to pay."""
    from billing.invoices.actions import confirm_charges, draft_invoices
    from billing.invoices.models import Invoice
    from tests.factories.billing import finished_visit, owned_horse, priced_service

    if Invoice.objects.filter(state="draft").count() >= DRAFTS // 2:
        return
    service = priced_service("95.00")
    for _ in range(DRAFTS // PAYERS):
        for payer in payers:
            finished_visit(owned_horse(payer), service)
        confirm_charges(day=DAY, at=AT, by=by)
        draft_invoices(at=AT, by=by)
        Invoice.objects.filter(state="draft", lines__isnull=True).delete()


def issue(by: object, number: int) -> None:
    from billing.invoices.actions import issue_invoice
    from billing.invoices.models import Invoice

    for draft in Invoice.objects.filter(state="draft").order_by("pk"):
        issue_invoice(invoice=draft, on=DAY, at=AT, by=by)


def warm_up(by: object) -> None:
    """One invoice, so that a child begins with all imports made."""
    from billing.invoices.actions import issue_invoice
    from billing.invoices.models import Invoice

    issue_invoice(invoice=Invoice.objects.filter(state="draft").first(), on=DAY, at=AT, by=by)


def batch(by: object, number: int) -> None:
    from billing.invoices.batch import carry_out
    from billing.invoices.models import InvoiceRun

    drafts = {"total": DRAFTS, "started_at": AT, "started_by": by, "seen_at": AT}
    carry_out(InvoiceRun.objects.create(on=DAY, **drafts).pk)


def bank(by: object, number: int) -> None:
    from billing.banking.actions import book_line, take_in
    from billing.banking.lines import BankMove, Reading
    from billing.banking.queries import sure_lines
    from billing.invoices.models import Invoice
    from billing.invoices.queries import invoices_shown
    from clients.people.models import Person

    owed = list(invoices_shown(DAY).filter(state="issued", open__gt=0)[:10])
    moves = [BankMove(DAY, invoice.open, f"for {invoice.name}", bank_id=f"{number}-{invoice.pk}") for invoice in owed]
    moves += [BankMove(DAY, Decimal("1.00"), "x", bank_id=f"{number}-x{line}") for line in range(LINES)]
    take_in(reading=Reading("OFX", "1", "USD", moves), content=str(number).encode(), name="x", at=AT, by=by)
    for line, match in sure_lines("USD"):
        invoices = Invoice.objects.in_bulk([key for key, _ in match.parts])
        allocations = {invoices[key]: part for key, part in match.parts}
        book_line(line=line, payer=Person.objects.get(pk=match.payer), allocations=allocations, at=AT, by=by)


JOBS = (issue, batch, bank)


def killed(job: object, by: object, number: int, after: float) -> bool:
    """Whether the process was still at work when it was killed."""
    from django.db import connections

    connections.close_all()
    child = os.fork()
    if child == 0:
        try:
            job(by, number)  # type: ignore[operator]
        finally:
            os._exit(0)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def faults() -> list[str]:
    """What `verify` finds, once what a cut-off change left on disk is swept; visits here are plain rows."""
    from django.utils import timezone

    from backoffice.documents.sweeping import sweep
    from backoffice.upkeep.verification import FOUNDATION, money_checks
    from billing.banking.models import BankFile, BankLine

    sweep(at=timezone.now() + timedelta(seconds=1), older_than=timedelta(0))
    found = [f"{check.name}: {fault}" for check in [*FOUNDATION, *money_checks()] for fault in check.faults()]
    for file in BankFile.objects.all():
        lines = BankLine.objects.filter(file=file).count()
        if lines != file.added:
            found.append(f"bank file {file.pk} says {file.added} lines and has {lines}.")
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=2026)
    asked = parser.parse_args()
    set_up()
    from billing.banking.models import BankLine
    from billing.invoices.models import Invoice
    from billing.payments.models import Payment

    chance = random.Random(asked.seed)
    by, payers = people()
    top_up(by, payers)
    warm_up(by)
    wrong: list[str] = []
    tries: Counter[str] = Counter()
    for number in range(asked.kills):
        top_up(by, payers)
        job = JOBS[number % len(JOBS)]
        at_work = killed(job, by, number, chance.uniform(0.01, LONGEST))
        tries[f"{job.__name__}{'' if at_work else ', through before'}"] += 1
        found = faults()
        wrong += [f"kill {number} ({job.__name__}): {fault}" for fault in found]
        if found:
            break
    for name, count in sorted(tries.items()):
        print(f"{name:<40}{count:>8}")
    print(f"{'invoices issued':<40}{Invoice.objects.exclude(number=None).count():>8}")
    print(f"{'payments booked':<40}{Payment.objects.count():>8}")
    print(f"{'lines of the bank':<40}{BankLine.objects.count():>8}")
    print(f"{'faults':<40}{len(wrong):>8}")
    for sentence in wrong:
        print(sentence)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
