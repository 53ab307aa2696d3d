"""What a month, a period of tax and a year come to. All of it is read from what was issued, paid and booked."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, Sum
from django.urls import reverse

from backoffice.business.models import Business
from billing.banking.models import BankLine
from billing.books.models import Expense, MileageClaim
from billing.books.tax_period import TaxLine, of_paper, part_of_paper, summed
from billing.invoices.actions import ACCOUNTS
from billing.invoices.models import Charge, CreditNote, Invoice, WriteOff
from billing.invoices.queries import owed_invoices, shares_to_invoice, uncharged_days
from billing.journal.models import Account, ClosedMonth, Posting
from billing.journal.queries import first_of_next, open_from
from billing.mileage.queries import year_of_miles
from billing.money.rounding import round_money
from billing.money.shares import next_part
from billing.money.totals import totals
from billing.payments.models import Allocation, CardPayout, Payment, Refund
from billing.payments.queries import balance_of, checks_in_hand
from clients.miles.models import Trip

ONE_DAY = timedelta(days=1)
NOTHING = Decimal(0)
EARLIEST = date(2000, 1, 1)
RECEIVED, EARNED = "received", "earned"
BY_INVOICE, BY_PAYMENT = "invoice", "payment"


@dataclass(frozen=True, slots=True)
class MonthEnd:
    """What is still open about a month, before it is closed."""

    first: date
    last: date
    is_closed: bool
    uncharged: list[date]
    confirmed: Decimal
    drafts: int
    drafts_total: Decimal
    waived: list[Charge]
    waived_total: Decimal
    bank_lines: int
    owed: int
    owed_total: Decimal
    checks: Decimal
    cash: Decimal
    estimates: int
    claim: Decimal


def month_end(first: date, business: Business) -> MonthEnd:
    """`first` is the first day of the month."""
    last = first_of_next(first) - ONE_DAY
    opened = open_from()
    waived = list(
        Charge.objects.filter(state=Charge.State.WAIVED, work_day__range=(first, last)).select_related("animal")
    )
    drafts = Invoice.objects.filter(state=Invoice.State.DRAFT).aggregate(n=Count("pk"), total=Sum("total"))
    owed = owed_invoices().filter(issued_on__lte=last)
    open_parts = list(owed.values_list("open", flat=True))
    return MonthEnd(
        first=first,
        last=last,
        is_closed=opened is not None and first < opened,
        uncharged=[day for day in uncharged_days(last) if first <= day <= last],
        confirmed=sum(shares_to_invoice().filter(charge__work_day__lte=last).values_list("amount", flat=True), NOTHING),
        drafts=drafts["n"],
        drafts_total=drafts["total"] or NOTHING,
        waived=waived,
        waived_total=sum((charge.amount for charge in waived), NOTHING),
        bank_lines=BankLine.objects.filter(state=BankLine.State.WAITING, day__lte=last).count(),
        owed=len(open_parts),
        owed_total=sum(open_parts, NOTHING),
        checks=sum((check.amount for check in checks_in_hand()), NOTHING),
        cash=balance_of(Account.CASH),
        estimates=_unconfirmed(first, last),
        claim=mileage_to_claim(first, business)[1],
    )


def _unconfirmed(first: date, last: date) -> int:
    standing = Trip.objects.filter(day__range=(first, last), replaced_by=None, metres__gt=0)
    return standing.exclude(measured=Trip.Measure.ODOMETER).count()


def mileage_to_claim(first: date, business: Business) -> tuple[int, Decimal]:
    """Metres and amount that the month that begins on `first` adds to the claims: all that an odometer has confirmed
    until the month's end, less what was claimed before; what is confirmed late is claimed then."""
    driven = year_of_miles(EARLIEST, first_of_next(first) - ONE_DAY, business, confirmed=True)
    metres = sum(line.trip.metres for line in driven.lines)
    claimed = MileageClaim.objects.filter(first_day__lt=first)
    before = claimed.aggregate(metres=Sum("metres"))["metres"] or 0
    return max(metres - before, 0), driven.amount - sum(claimed.values_list("amount", flat=True), NOTHING)


def closed_months() -> list[ClosedMonth]:
    return list(ClosedMonth.objects.all()[:24])


@dataclass(frozen=True, slots=True)
class TaxPeriod:
    since: date
    until: date
    basis: str
    lines: list[TaxLine]
    relieved: Decimal
    paid: Decimal

    @property
    def base(self) -> Decimal:
        return sum((line.base for line in self.lines), NOTHING)

    @property
    def tax(self) -> Decimal:
        return sum((line.tax for line in self.lines), NOTHING)

    @property
    def owed(self) -> Decimal:
        """What was charged, less tax on written-off debts that is asked back and tax paid to others."""
        return self.tax - self.relieved - self.paid


def tax_period(since: date, until: date, basis: str, currency: str) -> TaxPeriod:
    by_payment = basis == BY_PAYMENT
    lines = _tax_of_payments(since, until, currency) if by_payment else _tax_of_papers(since, until)
    return TaxPeriod(
        since=since,
        until=until,
        basis=basis,
        lines=summed(lines),
        relieved=NOTHING if by_payment else _relieved(since, until),
        paid=sum((tax for _, _, tax in _expenses(since, until)), NOTHING),
    )


def _tax_of_papers(since: date, until: date) -> Iterator[TaxLine]:
    issued = Invoice.objects.exclude(state=Invoice.State.DRAFT).filter(issued_on__range=(since, until))
    for frozen in issued.values_list("frozen", flat=True):
        yield from of_paper((frozen or {})["tax_groups"])
    for frozen in CreditNote.objects.filter(issued_on__range=(since, until)).values_list("frozen", flat=True):
        yield from of_paper(frozen["tax_groups"], sign=-1)


def _relieved(since: date, until: date) -> Decimal:
    given_up = WriteOff.objects.filter(on__range=(since, until)).values_list("tax", flat=True)
    taken_up = WriteOff.objects.filter(undone_on__range=(since, until)).values_list("tax", flat=True)
    return sum(given_up, NOTHING) - sum(taken_up, NOTHING)


def _tax_of_payments(since: date, until: date, currency: str) -> Iterator[TaxLine]:
    for allocation, before in _allocations(since, until):
        lines = _left_of(allocation.invoice)
        yield from part_of_paper(
            lines, before=round_money(before, currency), now=round_money(allocation.amount, currency), currency=currency
        )


def _left_of(invoice: Invoice) -> list[TaxLine]:
    """What the invoice asks for once its credit notes are taken off."""
    notes = [line for note in invoice.credit_notes.all() for line in of_paper(note.frozen["tax_groups"], sign=-1)]
    return summed([*of_paper((invoice.frozen or {})["tax_groups"]), *notes])


def _allocations(since: date, until: date) -> Iterator[tuple[Allocation, Decimal]]:
    """The allocations of the payments of a time, each with what the invoice had from earlier ones."""
    invoices = Allocation.objects.filter(payment__received_on__range=(since, until)).values("invoice")
    rows = (
        Allocation.objects.filter(invoice__in=invoices)
        .select_related("payment", "invoice")
        .prefetch_related("invoice__credit_notes", "invoice__lines__charge_share__charge", "invoice__lines__credits")
        .order_by("payment__received_on", "payment__number", "pk")
    )
    before: dict[int, Decimal] = defaultdict(Decimal)
    for row in rows:
        if since <= row.payment.received_on <= until:
            yield row, before[row.invoice_id]
        before[row.invoice_id] += row.amount


def _expenses(since: date, until: date) -> Iterator[tuple[str, Decimal, Decimal]]:
    """Category, amount and tax of what was bought in a time; below zero on the day on which it was taken back."""
    columns = ("category", "amount", "tax")
    yield from Expense.objects.filter(day__range=(since, until)).values_list(*columns)
    for category, amount, tax in Expense.objects.filter(undone_on__range=(since, until)).values_list(*columns):
        yield category, -amount, -tax


@dataclass(frozen=True, slots=True)
class YearLine:
    """`href` leads to what it is made of, where that is a list of its own."""

    words: str
    amount: Decimal
    href: str = ""


@dataclass(frozen=True, slots=True)
class YearReport:
    """Income and costs of a year, by one of two bases; not tax advice, and no return that anybody files."""

    since: date
    until: date
    basis: str
    income: Sequence[YearLine]
    costs: Sequence[YearLine]
    tax: Decimal

    @property
    def income_total(self) -> Decimal:
        return sum((line.amount for line in self.income), NOTHING)

    @property
    def costs_total(self) -> Decimal:
        return sum((line.amount for line in self.costs), NOTHING)

    @property
    def left(self) -> Decimal:
        return self.income_total - self.costs_total


INCOME = {
    Account.INCOME_SESSIONS: "Sessions",
    Account.INCOME_CALL_OUTS: "Call-outs",
    Account.INCOME_HIRE: "Hire of machines",
    Account.INCOME_FEES: "Fees without work",
    Account.PACKAGE_LIABILITY: "Packages and plans",
    Account.BOOKING_DEPOSITS: "Booking deposits",
    Account.VOUCHERS: "Gift vouchers",
    Account.TIPS: "Tips",
}
PREPAID = {Account.PACKAGE_LIABILITY, Account.BOOKING_DEPOSITS, Account.VOUCHERS}
CREDIT_KEPT, GIVEN_BACK, FROM_BEFORE = "On account, for no invoice yet", "Given back", "From before these books"


def year_report(since: date, until: date, basis: str, currency: str) -> YearReport:
    """As received: what came in, split as its invoices ask, and what was spent. As earned: by the day in the books."""
    if basis == RECEIVED:
        income, tax = _received(since, until, currency)
    else:
        income, tax = _earned(since, until), -_moved(Account.TAX_PAYABLE, since, until)
    return YearReport(since, until, basis, income, _costs(since, until, basis), tax)


def _received(since: date, until: date, currency: str) -> tuple[list[YearLine], Decimal]:
    sums: dict[str, Decimal] = defaultdict(Decimal)
    tax = NOTHING
    asked: dict[int, dict[str, Decimal]] = {}
    for allocation, before in _allocations(since, until):
        if allocation.invoice_id not in asked:
            asked[allocation.invoice_id] = _asked_by_kind(allocation.invoice)
        kinds = asked[allocation.invoice_id]
        if not sum(kinds.values()):
            continue
        parts = next_part(
            [round_money(amount, currency) for amount in kinds.values()],
            before=round_money(before, currency),
            now=round_money(allocation.amount, currency),
            currency=currency,
        )
        for kind, part in zip(kinds, parts, strict=True):
            sums[kind] += part
    tax = sums.pop("tax", NOTHING)
    payments = Payment.objects.filter(received_on__range=(since, until), returned_on=None)
    settled = Allocation.objects.filter(payment__in=payments).values_list("amount", flat=True)
    taken = list(payments.values_list("amount", "tip"))
    sums["Tips"] += sum((tip for _, tip in taken), NOTHING)
    sums[CREDIT_KEPT] = sum((amount - tip for amount, tip in taken), NOTHING) - sum(settled, NOTHING)
    brought = payments.filter(method=Payment.Method.BROUGHT).values_list("amount", flat=True)
    sums[FROM_BEFORE] -= sum(brought, NOTHING)  # it came in before the books were kept here
    by_voucher = payments.filter(method=Payment.Method.VOUCHER).values_list("amount", flat=True)
    sums[INCOME[Account.VOUCHERS]] -= sum(by_voucher, NOTHING)  # it came in when the voucher was paid for
    back = Refund.objects.filter(given_on__range=(since, until)).values_list("amount", flat=True)
    sums[GIVEN_BACK] = -sum(back, NOTHING)
    order = [*INCOME.values(), FROM_BEFORE, CREDIT_KEPT, GIVEN_BACK]
    return [YearLine(words, sums[words]) for words in order if sums.get(words)], tax


def _asked_by_kind(invoice: Invoice) -> dict[str, Decimal]:
    """Kind of income → what the invoice asks for before tax, less its credit notes; and its tax."""
    found: dict[str, Decimal] = defaultdict(Decimal)
    if invoice.brought_as:
        return {FROM_BEFORE: invoice.total, "tax": NOTHING}
    for line in invoice.lines.all():
        words = INCOME[ACCOUNTS[Charge.Kind(line.charge_share.charge.kind)]]
        found[words] += line.net - sum((credit.net for credit in line.credits.all()), NOTHING)
    found["tax"] = invoice.tax - sum((note.tax for note in invoice.credit_notes.all()), NOTHING)
    return found


def _earned(since: date, until: date) -> list[YearLine]:
    moved = totals(_postings(since, until).values_list("account", "amount"))
    earned = [account for account in INCOME if account not in PREPAID]
    return [YearLine(INCOME[account], -moved[account]) for account in earned if moved[account]]


def _costs(since: date, until: date, basis: str) -> list[YearLine]:
    by_category = totals((category, amount - tax) for category, amount, tax in _expenses(since, until))
    lines = [
        YearLine(str(label), by_category[value], _expenses_of(value, since, until))
        for value, label in Expense.Category.choices
        if by_category[value]
    ]
    fees = sum(CardPayout.objects.filter(paid_on__range=(since, until)).values_list("fee", flat=True), NOTHING)
    lines += [YearLine("Card fees", fees)] if fees else []
    motor = _moved(Account.MOTOR_EXPENSE, since, until)
    lines += [YearLine("Mileage, as claimed", motor, f"{reverse('billing:mileage')}?day={until}")] if motor else []
    bad = _moved(Account.BAD_DEBTS, since, until) if basis == EARNED else NOTHING
    return [*lines, *([YearLine("Bad debts", bad)] if bad else [])]


def _expenses_of(category: str, since: date, until: date) -> str:
    return f"{reverse('billing:expenses')}?category={category}&day_from={since}&day_to={until}"


def _postings(since: date, until: date) -> Any:
    return Posting.objects.filter(transaction__day__range=(since, until)).order_by()


def _moved(account: Account, since: date, until: date) -> Decimal:
    return sum(_postings(since, until).filter(account=account).values_list("amount", flat=True), NOTHING)
