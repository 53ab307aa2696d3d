"""The books as other programs read them: double entry in the beancount syntax, and rows for a table. Pure."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Leg:
    """One posting: `account` by its name in our books, debit positive."""

    account: str
    amount: Decimal
    payer: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """One event of the books; its legs sum to zero."""

    number: int
    day: date
    text: str
    source: str
    legs: Sequence[Leg]


ACCOUNTS: Mapping[str, str] = {
    "receivable": "Assets:Receivable",
    "cash": "Assets:Cash",
    "checks": "Assets:Checks",
    "bank": "Assets:Bank",
    "card_clearing": "Assets:CardClearing",
    "package_liability": "Liabilities:Packages",
    "booking_deposits": "Liabilities:BookingDeposits",
    "vouchers": "Liabilities:GiftVouchers",
    "tax_payable": "Liabilities:Tax",
    "credit": "Liabilities:CreditOnAccount",
    "income_sessions": "Income:Sessions",
    "income_call_outs": "Income:CallOuts",
    "income_hire": "Income:Hire",
    "income_fees": "Income:Fees",
    "deposits_held": "Liabilities:DepositsHeld",
    "tips": "Income:Tips",
    "expenses": "Expenses:Purchases",
    "card_fees": "Expenses:CardFees",
    "bad_debts": "Expenses:BadDebts",
    "motor_expense": "Expenses:Motor",
    "tax_paid": "Assets:TaxPaid",
    "capital": "Equity:Capital",
}
COLUMNS = ("number", "day", "text", "source", "account", "amount", "payer")


def beancount(events: Iterable[Event], *, title: str, currency: str) -> Iterator[str]:
    """Lines of a ledger: accounts opened on the first day, events in their order, balances asserted to the cent.

    `events` come by day. Balances are asserted at the beginning of every month that follows an event, and the day after
    the last; the tolerance is written out as 0, since the default would let half a cent pass.
    """
    yield f"option {quoted('title')} {quoted(title)}"
    yield f"option {quoted('operating_currency')} {quoted(currency)}"
    balances: dict[str, Decimal] = defaultdict(Decimal)
    last: date | None = None
    for event in events:
        if last is None:
            yield ""
            yield from (f"{event.day} open {name} {currency}" for name in ACCOUNTS.values())
        elif (event.day.year, event.day.month) != (last.year, last.month):
            yield from _asserted(balances, event.day.replace(day=1), currency)
        last = event.day
        yield from _event(event, currency)
        for leg in event.legs:
            balances[leg.account] += leg.amount
    if last is not None:
        yield from _asserted(balances, last + ONE_DAY, currency)


def _event(event: Event, currency: str) -> Iterator[str]:
    yield ""
    yield f"{event.day} * {quoted(event.text)}"
    yield f"  number: {event.number}"
    yield f"  source: {quoted(event.source)}"
    for leg in event.legs:
        yield f"  {ACCOUNTS[leg.account]}  {leg.amount:f} {currency}"
        if leg.payer:
            yield f"    payer: {quoted(leg.payer)}"


def _asserted(balances: Mapping[str, Decimal], day: date, currency: str) -> Iterator[str]:
    yield ""
    for account, amount in balances.items():
        yield f"{day} balance {ACCOUNTS[account]}  {amount:f} ~ 0 {currency}"


def quoted(text: str) -> str:
    """A string of the syntax: on one line, with its quotes and backslashes escaped."""
    plain = " ".join(text.split()).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def rows(events: Iterable[Event]) -> Iterator[tuple[object, ...]]:
    """One row a leg, in the order of `COLUMNS`."""
    for event in events:
        for leg in event.legs:
            yield event.number, event.day, event.text, event.source, leg.account, leg.amount, leg.payer
