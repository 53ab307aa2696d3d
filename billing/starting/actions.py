"""What a business brings along from its books of before. Each thing stands against the owner's capital: it was earned,
taxed or owed before the first day here."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from billing.invoices.models import Invoice
from billing.journal.actions import Entry, post
from billing.journal.models import Account, Transaction
from billing.money.rounding import minor_digits, round_money
from billing.numbers.actions import begin_series
from billing.packages.sold import PackageSold, PackageSoldPart
from billing.payments.actions import take_payment
from billing.payments.models import Payment, SecurityDeposit
from billing.payments.security import take_security
from billing.starting.models import MilesBefore, StartingDay
from clients.people.models import Person
from clients.plans.models import Service

SERIES = {"quote": "Quotes", "invoice": "Invoices", "credit_note": "Credit notes", "payment": "Receipts"}
HIGHEST = Decimal(1_000_000)
MOST_DRIVEN = 99_999


@audit.action
def begin_books(
    *, day: date, bank: Decimal, cash: Decimal, first_numbers: Mapping[str, int], at: datetime, by: User
) -> StartingDay:
    """Once, before anything else is booked on an earlier day."""
    if StartingDay.objects.exists():
        raise Refused("The first day is written down already.")
    if day > local_date(at):
        raise Refused("The first day is not ahead of today.")
    earlier = Transaction.objects.filter(day__lt=day).order_by("day").first()
    if earlier is not None:
        raise Refused(f"{earlier.text} is booked on {earlier.day:%-d %b %Y} already: the first day is then or before.")
    _refuse_bad_amount(bank, least=-HIGHEST)
    _refuse_bad_amount(cash)
    start = StartingDay.objects.create(pk=1, day=day, bank=bank, cash=cash, recorded_at=at, recorded_by=by)
    for series, number in first_numbers.items():
        begin_series(series, number)
    entries = [(Account.BANK, bank, None), (Account.CASH, cash, None), (Account.CAPITAL, -bank - cash, None)]
    post(day=day, text="Money on the first day", source=start, entries=[entry for entry in entries if entry[1]])
    changes = {"day": day, "bank": bank, "cash": cash, "first_numbers": dict(first_numbers)}
    audit.record("books begun", start, at=at, by=by, changes=changes)
    return start


@audit.action
def bring_invoice(
    *, payer: Person, name: str, issued_on: date, due_on: date, open_amount: Decimal, at: datetime, by: User
) -> Invoice:
    """An unpaid invoice under its old number, with what was still open of it. Its tax was told before."""
    start, name = the_starting_day(), name.strip()
    _refuse_bad_amount(open_amount, least=Decimal("0.001"))
    if not name:
        raise Refused("The old number is missing.")
    if Invoice.objects.filter(brought_as__iexact=name).exists():
        raise Refused(f"Invoice {name} is brought along already.")
    if issued_on > start.day:
        raise Refused(f"An invoice of after {start.day:%-d %b %Y} is made here.")
    if due_on < issued_on:
        raise Refused("It is due before it was issued.")
    currency, whose = the_business().currency, {"name": payer.name, "address": payer.address}
    invoice = Invoice.objects.create(
        state=Invoice.State.ISSUED,
        brought_as=name,
        payer=payer,
        made_at=at,
        issued_on=issued_on,
        issued_at=at,
        issued_by=by,
        due_on=due_on,
        currency=currency,
        net=open_amount,
        total=open_amount,
        frozen={"number": name, "payer": whose, "tax_groups": [], "reference": ""},
    )
    entries: list[Entry] = [(Account.RECEIVABLE, open_amount, payer), (Account.CAPITAL, -open_amount, None)]
    post(day=start.day, text=f"{invoice} of before", source=invoice, entries=entries)
    changes = {"name": name, "payer": payer.pk, "open": open_amount}
    audit.record("invoice brought along", invoice, at=at, by=by, changes=changes)
    return invoice


def bring_credit(*, payer: Person, amount: Decimal, at: datetime, by: User) -> Payment:
    """Money that a payer has with us and no invoice took."""
    on, method = the_starting_day().day, Payment.Method.BROUGHT
    return take_payment(payer=payer, amount=amount, method=method, received_on=on, allocations={}, at=at, by=by)


def bring_security(*, person: Person, amount: Decimal, what: str, at: datetime, by: User) -> SecurityDeposit:
    """A deposit that is held already."""
    on, method = the_starting_day().day, Payment.Method.BROUGHT
    return take_security(person=person, amount=amount, what=what, method=method, on=on, at=at, by=by)


@audit.action
def bring_package(
    *,
    payer: Person,
    name: str,
    service: Service,
    left: int,
    value: Decimal,
    ends_on: date | None,
    at: datetime,
    by: User,
) -> PackageSold:
    """A package that is used in part: the sessions that are left of it, and what of its price they are."""
    start = the_starting_day()
    _refuse_bad_amount(value)
    if not 0 < left <= 1000:
        raise Refused("A package has between 1 and 1000 sessions left.")
    if ends_on is not None and ends_on < start.day:
        raise Refused("It was over before the first day here.")
    sold = PackageSold.objects.create(
        payer=payer, name=name.strip(), price=value, net=value, sold_on=start.day, ends_on=ends_on, is_brought=True
    )
    PackageSoldPart.objects.create(sold=sold, service=service, count=left)
    if value:
        entries: list[Entry] = [(Account.CAPITAL, value, None), (Account.PACKAGE_LIABILITY, -value, None)]
        post(day=start.day, text=f"{sold} of before", source=sold, entries=entries)
    changes = {"payer": payer.pk, "service": service.pk, "left": left, "value": value}
    audit.record("package brought along", sold, at=at, by=by, changes=changes)
    return sold


@audit.action
def bring_miles(*, driver: User, distance: Decimal, at: datetime, by: User) -> MilesBefore:
    """What somebody had driven already this tax year, so that a limit of it is not counted anew; said again, it is
    put right."""
    start = the_starting_day()
    if not 0 <= distance <= MOST_DRIVEN:
        raise Refused(f"Write a distance up to {MOST_DRIVEN:,}.")
    row, _ = MilesBefore.objects.update_or_create(driver=driver, defaults={"start": start, "distance": distance})
    audit.record("miles brought along", row, at=at, by=by, changes={"driver": driver.pk, "distance": distance})
    return row


def the_starting_day() -> StartingDay:
    start = StartingDay.objects.first()
    if start is None:
        raise Refused("Write down the first day of your books first.")
    return start


def _refuse_bad_amount(amount: Decimal, least: Decimal = Decimal(0)) -> None:
    currency = the_business().currency
    if not least <= amount <= HIGHEST or round_money(amount, currency) != amount:
        few = "more than nothing" if least > 0 else "an amount"
        raise Refused(f"Write {few} up to a million, with {minor_digits(currency)} decimals.")
