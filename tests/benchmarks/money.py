"""Speed of the money trail: `uv run python -m tests.benchmarks.money [--invoices 500] [--sessions 250000]`.

Issuing beside the bare PDF, a month of invoices in the background, a statement of a thousand moves, and `verify` over
ten years of a business of five. A database of its own; figures are printed, nothing is judged.
"""

import argparse
import hashlib
import os
import resource
import tempfile
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import django

DAY, AT = date(2026, 3, 2), datetime(2026, 3, 2, 22, 0, tzinfo=UTC)
TIMES = 25
PER_INVOICE = 5
CHUNK = 5000


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


def in_chunks(rows: Iterable[Any], model: Any) -> None:
    chunk: list[Any] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == CHUNK:
            model.objects.bulk_create(chunk)
            chunk.clear()
    model.objects.bulk_create(chunk)


class TenYears:
    """Generated: sessions of 200 horses, five on an invoice, each invoice paid, an audit entry for each."""

    def __init__(self, sessions: int, by: Any) -> None:
        from tests.factories.billing import owned_horse
        from tests.factories.clients import PersonFactory, ServiceFactory

        self.sessions, self.by = sessions, by
        self.service = ServiceFactory()
        self.horses = [owned_horse(PersonFactory(name=f"Owner {number}")) for number in range(200)]
        self.payers = [horse.ownerships.get().person for horse in self.horses]
        self.first = self._next_keys()

    def _next_keys(self) -> dict[str, int]:
        from django.db.models import Max

        from billing.invoices.models import Charge, Invoice
        from billing.journal.models import Transaction
        from billing.payments.models import Payment
        from clients.paperwork.models import Decision
        from clients.visits.models import Visit

        models = (Visit, Decision, Charge, Invoice, Transaction, Payment)
        return {m.__name__: (m.objects.aggregate(last=Max("pk"))["last"] or 0) + 1 for m in models}

    def day(self, number: int) -> date:
        return date(2016, 1, 4) + timedelta(days=number * 3650 // self.sessions)

    def generate(self) -> None:
        from django.db import transaction

        with transaction.atomic():
            self._visits()
            self._charges()
            self._invoices()
            self._books()

    def _visits(self) -> None:
        from datetime import time

        from clients.paperwork.models import Decision
        from clients.visits.models import Session, Visit

        first, decision = self.first["Visit"], self.first["Decision"]

        def horse(number: int) -> Any:
            return self.horses[number // PER_INVOICE % len(self.horses)]

        in_chunks(
            (
                Decision(
                    pk=decision + n, animal=horse(n), door=Decision.Door.BOOKING, for_day=self.day(n),
                    result=Decision.Result.READY, decided_at=AT,
                )
                for n in range(self.sessions)
            ),
            Decision,
        )  # fmt: skip
        in_chunks(
            (
                Visit(
                    pk=first + n, animal=horse(n), barn=horse(n).barn, service=self.service, practitioner=self.by,
                    day=self.day(n), starts=time(9), minutes=60, status="completed", completed_at=AT,
                    booking_decision_id=decision + n, start_decision_id=decision + n,
                )
                for n in range(self.sessions)
            ),
            Visit,
        )  # fmt: skip
        rows = (
            Session(pk=first + n, visit_id=first + n, service=self.service, minutes=60) for n in range(self.sessions)
        )
        in_chunks(rows, Session)

    def _charges(self) -> None:
        from billing.invoices.models import Charge, ChargeShare

        visit, first = self.first["Visit"], self.first["Charge"]
        price = Decimal("95.00")
        in_chunks(
            (
                Charge(
                    pk=first + n, kind="session", visit_id=visit + n, session_id=visit + n, work_day=self.day(n),
                    text="Session", reason="list price", amount=price, confirmed_at=AT, confirmed_by=self.by,
                )
                for n in range(self.sessions)
            ),
            Charge,
        )  # fmt: skip
        in_chunks(
            (
                ChargeShare(
                    pk=first + n, charge_id=first + n, payer=self._payer(n), position=1, numerator=1, denominator=1,
                    amount=price,
                )
                for n in range(self.sessions)
            ),
            ChargeShare,
        )  # fmt: skip

    def _payer(self, session: int) -> Any:
        return self.payers[session // PER_INVOICE % len(self.payers)]

    def _invoices(self) -> None:
        from backoffice.documents.models import Document
        from billing.invoices.models import Invoice, InvoiceLine
        from billing.numbers.models import NumberSeries

        charge, first, count = self.first["Charge"], self.first["Invoice"], self.sessions // PER_INVOICE
        total = PER_INVOICE * Decimal("95.00")
        start = Invoice.objects.exclude(number=None).count() + 1
        in_chunks(self._papers(first, count), Document)
        papers = Document.objects.filter(title__startswith="Generated").order_by("pk").values_list("pk", flat=True)
        in_chunks(
            (
                Invoice(
                    pk=first + n, state="issued", number=start + n, payer=self.payers[n % len(self.payers)], made_at=AT,
                    issued_on=self.day(PER_INVOICE * n), issued_at=AT, issued_by=self.by, due_on=DAY,
                    currency="USD", net=total, total=total, frozen={"payer": {"name": "x"}, "tax_groups": []},
                    document_id=paper,
                )
                for n, paper in enumerate(papers.iterator())
            ),
            Invoice,
        )  # fmt: skip
        in_chunks(
            (
                InvoiceLine(
                    invoice_id=first + n // PER_INVOICE, position=1 + n % PER_INVOICE, charge_share_id=charge + n,
                    text="Session", amount=Decimal("95.00"), net=Decimal("95.00"),
                )
                for n in range(count * PER_INVOICE)
            ),
            InvoiceLine,
        )  # fmt: skip
        NumberSeries.objects.update_or_create(name="invoice", defaults={"next_number": start + count})

    def _papers(self, first: int, count: int) -> Iterator[Any]:
        """A small file for each: what `verify` reads is its bytes, and the hash of them."""
        from django.core.files.storage import default_storage

        from backoffice.documents.models import Document

        folder = Path(default_storage.path("documents/generated"))
        for number in range(count):
            where = folder / f"{number // 1000}"
            where.mkdir(parents=True, exist_ok=True)
            content = b"%PDF-1.7 " + str(first + number).encode() * 4000
            (where / f"{number}.pdf").write_bytes(content)
            yield Document(
                kind="invoice",
                title=f"Generated {number}",
                file=f"documents/generated/{number // 1000}/{number}.pdf",
                size=len(content),
                sha256=hashlib.sha256(content).hexdigest(),
                made_at=AT,
            )

    def _books(self) -> None:
        from backoffice.audit.chain import entry_hash
        from backoffice.audit.models import Entry, Head
        from billing.journal.models import Posting, Transaction
        from billing.numbers.models import NumberSeries
        from billing.payments.models import Allocation, Payment

        count = self.sessions // PER_INVOICE
        invoice, pay, move = self.first["Invoice"], self.first["Payment"], self.first["Transaction"]
        total, start = PER_INVOICE * Decimal("95.00"), Payment.objects.count() + 1

        def payer(n: int) -> Any:
            return self.payers[n % len(self.payers)]

        def day(n: int) -> date:
            return self.day(PER_INVOICE * n)

        in_chunks(
            (
                Payment(
                    pk=pay + n, number=start + n, payer=payer(n), received_on=day(n), amount=total, method="transfer",
                    recorded_at=AT, recorded_by=self.by,
                )
                for n in range(count)
            ),
            Payment,
        )  # fmt: skip
        in_chunks(
            (Allocation(payment_id=pay + n, invoice_id=invoice + n, amount=total) for n in range(count)), Allocation
        )
        NumberSeries.objects.update_or_create(name="payment", defaults={"next_number": start + count})
        in_chunks(
            (
                Transaction(pk=move + n, day=day(n // 2), text="x", source="billing.invoice", source_pk=n // 2)
                for n in range(2 * count)
            ),
            Transaction,
        )
        in_chunks(self._legs(move, count, total, payer), Posting)
        head = Head.objects.get(pk=1)
        number, previous, entries = head.number, head.hash, []
        for n in range(self.sessions + 2 * count):
            facts = {
                "number": number + 1, "at": AT, "via": "", "action": "charge confirmed", "target": "billing.charge",
                "target_pk": str(n), "changes": {"amount": "95.00"}, "previous_hash": previous,
            }  # fmt: skip
            previous = entry_hash(by=self.by.pk, **facts)
            entries.append(Entry(by=self.by, hash=previous, **facts))
            number += 1
        in_chunks(entries, Entry)
        Head.objects.update(number=number, hash=previous)

    def _legs(self, move: int, count: int, total: Decimal, payer: Any) -> Iterator[Any]:
        from billing.journal.models import Account, Posting

        for n in range(count):
            sides = (
                (move + 2 * n, Account.RECEIVABLE, Account.INCOME_SESSIONS),
                (move + 2 * n + 1, Account.BANK, Account.RECEIVABLE),
            )
            for entry, debit, credit in sides:
                for account, amount in ((debit, total), (credit, -total)):
                    whose = payer(n) if account == Account.RECEIVABLE else None
                    yield Posting(transaction_id=entry, account=account, amount=amount, payer=whose)


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
