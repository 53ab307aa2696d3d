"""A business of ten years, generated row by row: for benchmarks, never for the product."""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

DAY, AT = date(2026, 3, 2), datetime(2026, 3, 2, 22, 0, tzinfo=UTC)
PER_INVOICE = 5
CHUNK = 5000


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

    def __init__(self, sessions: int, by: Any, practitioners: Sequence[Any] = ()) -> None:
        from tests.factories.billing import owned_horse
        from tests.factories.clients import PersonFactory, ServiceFactory

        self.sessions, self.by, self.practitioners = sessions, by, practitioners or [by]
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

    def evening(self, number: int) -> datetime:
        return datetime.combine(self.day(number), AT.time(), UTC)

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
                    pk=first + n, animal=horse(n), barn=horse(n).barn, service=self.service,
                    practitioner=self.practitioners[n % len(self.practitioners)], day=self.day(n), starts=time(9),
                    minutes=60, status="completed", completed_at=self.evening(n),
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
                    pk=first + n, state="issued", number=start + n, payer=self.payers[n % len(self.payers)],
                    made_at=self.evening(PER_INVOICE * n), issued_on=self.day(PER_INVOICE * n),
                    issued_at=self.evening(PER_INVOICE * n), issued_by=self.by, due_on=DAY,
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
                made_at=self.evening(PER_INVOICE * number),
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
