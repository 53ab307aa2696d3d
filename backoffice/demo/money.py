"""The office behind the work: purchases, a deposit held, checks at the bank, a file of the bank, letters that wait."""

from decimal import Decimal
from typing import Any

from backoffice.demo.scenario import Made, Scenario
from billing.banking.actions import take_in
from billing.banking.lines import Reading
from billing.banking.plain import DayOrder
from billing.banking.reading import read_file
from billing.books.actions import write_expense
from billing.books.models import Expense
from billing.invoices.queries import invoices_shown
from billing.payments.banking import bank_takings, note_card_payout
from billing.payments.models import Payment
from billing.payments.security import take_security
from billing.reminders.actions import add_starter_stages, draft_reminders

BANKED, PAID_OUT, FILED = -5, -4, 0


def keep_the_office(scenario: Scenario, made: Made) -> None:
    for row in scenario.story["expenses"]:
        _spend(row, scenario, made)
    for hire in scenario.story["hires"]:
        take_security(
            person=made.people[hire["owner"]],
            amount=Decimal(hire["deposit"]),
            method=Payment.Method.TRANSFER,
            what=f"Machine “{made.machines[hire['machine']].name}”, until it is back",
            on=scenario.day(hire["since"]),
            at=scenario.at(hire["since"], 9, 30),
            by=made.manager,
        )
    _go_to_the_bank(scenario, made)
    _take_in_a_bank_file(scenario, made)
    add_starter_stages(at=scenario.at(-60), by=made.manager)
    draft_reminders(on=scenario.today, at=scenario.at(0, 3))


def _spend(row: dict[str, Any], scenario: Scenario, made: Made) -> None:
    told = {"what": row["what"], "category": row["category"], "paid_from": row["paid_from"]}
    expense = Expense(day=scenario.day(row["day"]), amount=Decimal(row["amount"]), **told)
    write_expense(expense=expense, at=scenario.at(row["day"], 20), by=made.manager)


def _go_to_the_bank(scenario: Scenario, made: Made) -> None:
    """All checks but the latest, with some of the cash; and what a card service paid out."""
    received = Payment.objects.filter(received_on__lte=scenario.day(BANKED)).order_by("received_on", "pk")
    checks = list(received.filter(method=Payment.Method.CHECK))
    on, at = scenario.day(BANKED), scenario.at(BANKED, 12)
    bank_takings(checks=checks, cash=Decimal(100), on=on, at=at, by=made.manager)
    cards = sum((payment.amount for payment in received.filter(method=Payment.Method.CARD)), Decimal(0))
    if cards:
        fee = (cards * Decimal("0.029")).quantize(Decimal("0.01"))
        on, at = scenario.day(PAID_OUT), scenario.at(PAID_OUT, 12)
        note_card_payout(amount=cards - fee, fee=fee, on=on, reference="", at=at, by=made.manager)


def _take_in_a_bank_file(scenario: Scenario, made: Made) -> None:
    """One line that names its invoice, one with a payer's name, and some that nobody knows yet."""
    first, second = invoices_shown(scenario.today).filter(shown="overdue").order_by("due_on", "number")[:2]
    lines = [
        (-3, first.open, f"INVOICE {first.name}", first.payer.name),
        (-2, second.open, "THANK YOU", second.payer.name),
        (-2, Decimal("-6.50"), "ACCOUNT FEE", ""),
        (-1, Decimal("60.00"), "TRANSFER", ""),
    ]
    entries = "".join(
        f"<STMTTRN><TRNTYPE>OTHER<DTPOSTED>{scenario.day(offset):%Y%m%d}<TRNAMT>{amount:.2f}"
        f"<FITID>D{number}{f'<NAME>{name[:32]}' if name else ''}<MEMO>{memo}</STMTTRN>"
        for number, (offset, amount, memo, name) in enumerate(lines, start=1)
    )
    content = (
        "<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>USD<BANKACCTFROM><ACCTID>000123456</BANKACCTFROM>"
        f"<BANKTRANLIST>{entries}</BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>"
    ).encode()
    reading = read_file(content, DayOrder.MONTH_FIRST)
    assert isinstance(reading, Reading)  # noqa: S101
    take_in(reading=reading, content=content, name="the last days.ofx", at=scenario.at(FILED, 7), by=made.manager)
