"""A credit note takes back all or part of an issued invoice: income and tax, to the payer who was charged."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Max

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import prepare_renderer
from backoffice.refusal import Refused
from billing.invoices.actions import ACCOUNTS
from billing.invoices.frozen import frozen_credit_note
from billing.invoices.models import (
    PREPAID,
    PROPOSED_ANEW,
    WORK,
    Charge,
    ChargeShare,
    CreditLine,
    CreditNote,
    Invoice,
    InvoiceLine,
)
from billing.invoices.papers import printed
from billing.invoices.queries import credited_of, lines_of
from billing.journal.actions import Entry, look_again_from, post
from billing.journal.models import Account
from billing.money.credit import part_of
from billing.money.rounding import minor_digits, round_money
from billing.money.totals import totals
from billing.money.words import say_amount
from billing.numbers.actions import take_number
from billing.packages.actions import give_back
from billing.packages.queries import used_part
from billing.vouchers import actions as vouchers


@dataclass(frozen=True, slots=True)
class Part:
    """What is taken back of one line: as printed, before tax, and the tax with it."""

    line: InvoiceLine
    amount: Decimal
    net: Decimal
    tax: Decimal


def unused_of(line: InvoiceLine) -> Decimal:
    """What of a package's price, as printed, no session has used; what is left of a gift voucher."""
    sold, voucher = line.charge_share.charge.sold, line.charge_share.charge.voucher
    if voucher is not None:
        return voucher.left
    return line.amount - used_part(sold, line.amount) if sold and sold.closed_on is None else Decimal(0)


def can_be_credited(line: InvoiceLine) -> bool:
    return Charge.Kind(line.charge_share.charge.kind) in WORK | PREPAID


def credit_invoice(
    *,
    invoice: Invoice,
    amounts: Mapping[InvoiceLine, Decimal],
    reason: str,
    anew: Collection[InvoiceLine] = (),
    on: date,
    at: datetime,
    by: User,
) -> CreditNote:
    """Take back `amounts` as printed, line by line. The work of a line in `anew`, taken back whole, is charged anew.

    What was paid already becomes credit on account. A package is taken back whole, or what is unused of it, and ends;
    a plan month is taken back whole.
    """
    prepare_renderer()
    return _credit(invoice=invoice, amounts=amounts, reason=reason.strip(), anew=anew, on=on, at=at, by=by)


@audit.action
def _credit(
    *,
    invoice: Invoice,
    amounts: Mapping[InvoiceLine, Decimal],
    reason: str,
    anew: Collection[InvoiceLine],
    on: date,
    at: datetime,
    by: User,
) -> CreditNote:
    invoice = Invoice.objects.select_for_update(of=("self",)).select_related("payer").get(pk=invoice.pk)
    _refuse_bad_note(invoice, reason, on=on, today=local_date(at))
    lines = {line.pk: line for line in lines_of(invoice)}
    wanted = {line.pk: amount for line, amount in amounts.items() if amount}
    if not wanted:
        raise Refused("A credit note takes back more than nothing.")
    if not set(wanted) <= set(lines):
        raise Refused("A line of another invoice is taken back by a credit note of its own.")
    before = credited_of(lines.values())
    for pk, amount in wanted.items():
        _refuse_bad_amount(lines[pk], amount, before[pk][0], invoice.currency)
    parts = _parts(invoice, list(lines.values()), wanted, before)
    note = _note(invoice, parts, reason, on=on, at=at, by=by)
    freed = _free_what_was_paid(invoice, note.total)
    _mark_as_credited(invoice)
    post(day=on, text=str(note), source=note, entries=_entries(invoice, parts, note, freed))
    _give_prepaid_back(parts, on)
    for line in anew:
        _charge_anew(lines[line.pk])
    changes = {"number": note.number, "invoice": invoice.pk, "total": note.total, "freed": freed}
    audit.record("invoice credited", note, at=at, by=by, changes=changes)
    return note


def _refuse_bad_note(invoice: Invoice, reason: str, *, on: date, today: date) -> None:
    if invoice.state == Invoice.State.DRAFT:
        raise Refused("A draft is thrown away, not credited.")
    if invoice.brought_as:
        raise Refused("An invoice of before is credited where it was made. What nobody will pay is written off.")
    if invoice.state == Invoice.State.CREDITED:
        raise Refused("This invoice is credited whole already.")
    if invoice.write_offs.filter(undone_on=None).exists():
        raise Refused("What is left of this invoice is written off. Take it up again first.")
    if not reason:
        raise Refused("A credit note says why.")
    if on > today:
        raise Refused("A credit note is not dated ahead of today.")
    last = CreditNote.objects.aggregate(last=Max("issued_on"))["last"]
    earliest = max(day for day in (last, invoice.issued_on) if day is not None)
    if on < earliest:
        raise Refused(f"Its day is {earliest:%-d %b %Y} or later: numbers and dates run the same way.")


def _refuse_bad_amount(line: InvoiceLine, amount: Decimal, before: Decimal, currency: str) -> None:
    kind, left = Charge.Kind(line.charge_share.charge.kind), line.amount - before
    if kind not in WORK | PREPAID:
        raise Refused(f"“{line.text}” is not taken back by itself: credit the work that it belongs to.")
    if amount < 0 or amount > left:
        raise Refused(f"“{line.text}” has {say_amount(left, currency)} left to take back.")
    if round_money(amount, currency) != amount:
        raise Refused(f"An amount of {currency} has {minor_digits(currency)} decimals.")
    unused = unused_of(line)
    if kind == Charge.Kind.VOUCHER and amount != unused:
        raise Refused(f"“{line.text}” has {say_amount(unused, currency)} left: that is taken back, or nothing.")
    if kind in PREPAID and amount not in {line.amount, unused}:
        told = f"what is unused of it, {say_amount(unused, currency)}" if unused else "not at all"
        raise Refused(f"“{line.text}” is taken back whole, {say_amount(line.amount, currency)}, or {told}.")


def _parts(
    invoice: Invoice,
    lines: Sequence[InvoiceLine],
    wanted: Mapping[int, Decimal],
    before: Mapping[int, tuple[Decimal, Decimal, Decimal]],
) -> list[Part]:
    """Tax that was in the price goes line by line; tax on top goes by its rate, in proportion to what it was on."""
    currency, parts = invoice.currency, []
    on_top = {group["percent"]: Decimal(0) for group in _groups(invoice)}
    for group in _groups(invoice):
        if not group["included"]:
            on_top[group["percent"]] += Decimal(group["tax"])
    percents = {line.pk: f"{line.tax_percent.normalize():f}" for line in lines}
    base = totals((percents[line.pk], line.net) for line in lines if line.net == line.amount)
    gone = totals((percents[line.pk], before[line.pk][1]) for line in lines if line.net == line.amount)
    for line in lines:
        amount = wanted.get(line.pk)
        if amount is None:
            continue
        if line.net != line.amount:
            net = part_of(line.net, line.amount, before=before[line.pk][0], now=amount, currency=currency)
            parts.append(Part(line, amount, net, amount - net))
            continue
        rate = percents[line.pk]
        whole = on_top.get(rate, Decimal(0))
        tax = part_of(whole, base[rate], before=gone[rate], now=amount, currency=currency)
        gone[rate] += amount
        parts.append(Part(line, amount, amount, tax))
    return parts


def _groups(invoice: Invoice) -> Sequence[dict[str, str]]:
    groups: Sequence[dict[str, str]] = (invoice.frozen or {})["tax_groups"]
    return [{**group, "percent": group["percent"] or "0"} for group in groups]


def _note(invoice: Invoice, parts: Sequence[Part], reason: str, *, on: date, at: datetime, by: User) -> CreditNote:
    net = sum((part.net for part in parts), Decimal(0))
    tax = sum((part.tax for part in parts), Decimal(0))
    note = CreditNote(
        number=take_number("credit_note"),
        invoice=invoice,
        issued_on=on,
        issued_at=at,
        issued_by=by,
        reason=reason,
        net=net,
        tax=tax,
        total=net + tax,
    )
    lines = [
        CreditLine(credit_note=note, position=position, line=part.line, amount=part.amount, net=part.net, tax=part.tax)
        for position, part in enumerate(parts, start=1)
    ]
    business = the_business()
    note.frozen = frozen_credit_note(note=note, parts=lines, business=business)
    content = printed("documents/credit_note.html", "note", note.frozen, with_data=business.e_invoice)
    note.document = store_document(kind=Document.Kind.CREDIT_NOTE, title=str(note), content=content, at=at, by=by)
    note.save(force_insert=True)
    CreditLine.objects.bulk_create(lines)
    return note


def _free_what_was_paid(invoice: Invoice, credited: Decimal) -> Decimal:
    """What payments gave to more than is owed now goes back to the payer's account, the latest payment first."""
    allocations = list(invoice.allocations.select_for_update().order_by("-payment__received_on", "-pk"))
    paid = sum((each.amount for each in allocations), Decimal(0))
    notes = sum(invoice.credit_notes.values_list("total", flat=True), Decimal(0))
    freed: Decimal = max(paid - (invoice.total - notes), Decimal(0))
    left = freed
    for allocation in allocations:
        part = min(left, allocation.amount)
        left -= part
        if part == allocation.amount:
            allocation.delete()
        elif part:
            allocation.amount -= part
            allocation.save(update_fields=["amount"])
    return min(freed, credited)


def _mark_as_credited(invoice: Invoice) -> None:
    notes = sum(invoice.credit_notes.values_list("total", flat=True), Decimal(0))
    if notes == invoice.total:
        invoice.state = Invoice.State.CREDITED
        invoice.save(update_fields=["state"])


def _entries(invoice: Invoice, parts: Sequence[Part], note: CreditNote, freed: Decimal) -> list[Entry]:
    income = totals((ACCOUNTS[Charge.Kind(part.line.charge_share.charge.kind)], part.net) for part in parts)
    return [
        *((account, amount, None) for account, amount in income.items()),
        (Account.TAX_PAYABLE, note.tax, None),
        (Account.RECEIVABLE, freed - note.total, invoice.payer),
        (Account.CREDIT, -freed, invoice.payer),
    ]


def _give_prepaid_back(parts: Sequence[Part], on: date) -> None:
    for part in parts:
        charge = part.line.charge_share.charge
        prepaid = charge.sold or charge.plan_month
        if prepaid is not None:
            give_back(prepaid, part.net, on)
        elif charge.voucher is not None:
            vouchers.give_back(charge.voucher, part.net)


def _charge_anew(line: InvoiceLine) -> None:
    """The work waits to be charged again: every payer's part of it must have been taken back."""
    charge = line.charge_share.charge
    if Charge.Kind(charge.kind) not in PROPOSED_ANEW:
        raise Refused(f"“{line.text}” is not proposed anew: no rule gives it.")
    for share in ChargeShare.objects.filter(charge=charge, amount__gt=0).select_related("payer", "line"):
        billed = getattr(share, "line", None)
        taken = sum(billed.credits.values_list("amount", flat=True), Decimal(0)) if billed else share.amount
        if taken != share.amount:
            raise Refused(f"“{line.text}” is charged anew when all of it is taken back, the part of {share.payer} too.")
    charge.state = Charge.State.TAKEN_BACK
    charge.save(update_fields=["state"])
    look_again_from(charge.work_day)
