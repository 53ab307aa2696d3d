from collections.abc import Iterable
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from billing.banking.columns import Columns, Sheet
from billing.banking.matching import NEAR_DAYS, Known, Ledger, Match, OpenInvoice, matches, sure_match
from billing.banking.models import BankColumns, BankLine
from billing.invoices.queries import owed_invoices
from billing.money.rounding import round_money
from billing.payments.models import CardPayout, DepositSlip, Payment


def lines_waiting() -> QuerySet[BankLine]:
    return BankLine.objects.filter(state=BankLine.State.WAITING).select_related("file").order_by("day", "pk")


def counts_of_lines() -> dict[str, int]:
    rows = BankLine.objects.order_by().values("state").annotate(n=Count("pk")).values_list("state", "n")
    return {**dict.fromkeys(BankLine.State.values, 0), **dict(rows)}


def columns_of(sheet: Sheet) -> Columns | None:
    kept = BankColumns.objects.filter(heading=sheet.key).first()
    return Columns(**kept.columns) if kept else None


def ledger_for(lines: Iterable[BankLine], currency: str) -> Ledger:
    """What is open, and what is in the books already around the days of these lines."""
    days = [line.day for line in lines]
    if not days:
        return Ledger(())
    owed = owed_invoices()
    invoices = [
        OpenInvoice(each.pk, each.name, each.payer_id, each.payer.name, round_money(each.open, currency), each.due_on)
        for each in owed
    ]
    near = timedelta(days=NEAR_DAYS)
    return Ledger(invoices, [*_known(min(days) - near, max(days) + near, currency)])


def _known(since: Any, until: Any, currency: str) -> Iterable[Known]:
    tied = set(BankLine.objects.exclude(tied_to="").values_list("tied_to", flat=True))

    def known(kind: str, key: int, name: str, amount: Decimal, day: Any) -> Iterable[Known]:
        if f"{kind} {key}" not in tied:
            yield Known(kind, key, name, round_money(amount, currency), day)

    transfers = Payment.objects.filter(method=Payment.Method.TRANSFER, bank_line=None, returned_on=None)
    for payment in transfers.filter(received_on__range=(since, until)).select_related("payer"):
        yield from known(
            "payment", payment.pk, f"Payment {payment.number} of {payment.payer}", payment.amount, payment.received_on
        )
    for slip in DepositSlip.objects.filter(banked_on__range=(since, until)):
        yield from known("slip", slip.pk, str(slip), slip.total, slip.banked_on)
    for payout in CardPayout.objects.filter(paid_on__range=(since, until)):
        yield from known("payout", payout.pk, "Card payout", payout.amount, payout.paid_on)


def matched(lines: Iterable[BankLine], currency: str) -> list[tuple[BankLine, list[Match]]]:
    """Each line with what it may be."""
    lines = list(lines)
    ledger = ledger_for(lines, currency)
    return [(line, matches(line.move, ledger)) for line in lines]


def sure_lines(currency: str) -> list[tuple[BankLine, Match]]:
    """Lines that are sure by themselves and that no other sure line of the same invoice stands beside."""
    lines = list(lines_waiting())
    ledger = ledger_for(lines, currency)
    sure = [(line, match) for line in lines if (match := sure_match(line.move, ledger)) is not None]
    taken: set[int] = set()
    kept = []
    for line, match in sure:
        invoices = {key for key, _ in match.parts}
        if not invoices & taken:
            taken |= invoices
            kept.append((line, match))
    return kept


def get_line_or_404(request: HttpRequest, pk: int) -> BankLine:
    demand(request, Power.CHANGE_MONEY)
    return get_object_or_404(BankLine, pk=pk)


def lines_of_another_format(account: str, format: str, days: set[Any]) -> bool:
    """Whether the same days of this account came in another format before."""
    return BankLine.objects.filter(~Q(file__format=format), file__account=account, day__in=days).exists()
