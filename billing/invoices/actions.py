from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import groupby

from django.db.models import Exists, Max, OuterRef

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import prepare_renderer
from backoffice.refusal import Refused
from billing.einvoice.categories import OUTSIDE
from billing.invoices.by_hand import refuse_bad_amount
from billing.invoices.deductions import put_back, take_off
from billing.invoices.frozen import frozen_invoice
from billing.invoices.models import Charge, ChargeShare, Invoice, InvoiceLine
from billing.invoices.papers import printed
from billing.invoices.proposals import Proposal
from billing.invoices.queries import lines_of, proposals_for, shares_to_invoice
from billing.invoices.totals import Totals, totals_of
from billing.journal.actions import Entry, post
from billing.journal.models import Account
from billing.money.shares import split_amount
from billing.money.totals import totals
from billing.numbers.actions import take_number
from billing.packages.actions import earn_ended_months, take_in, use_session, write_month
from billing.packages.sold import Use
from billing.prices.queries import tax_book
from billing.vouchers import actions as vouchers
from clients.people.models import Person

ACCOUNTS = {
    Charge.Kind.SESSION: Account.INCOME_SESSIONS,
    Charge.Kind.CALL_OUT: Account.INCOME_CALL_OUTS,
    Charge.Kind.COULD_NOT_WORK: Account.INCOME_FEES,
    Charge.Kind.LATE_CANCEL: Account.INCOME_FEES,
    Charge.Kind.LATE_FEE: Account.INCOME_FEES,
    Charge.Kind.DAY_RATE: Account.INCOME_SESSIONS,
    Charge.Kind.LATE_RETURN: Account.INCOME_HIRE,
    Charge.Kind.OTHER: Account.INCOME_FEES,
    Charge.Kind.RENT: Account.INCOME_HIRE,
    Charge.Kind.DELIVERY: Account.INCOME_HIRE,
    Charge.Kind.COLLECTION: Account.INCOME_HIRE,
    Charge.Kind.PACKAGE: Account.PACKAGE_LIABILITY,
    Charge.Kind.PLAN_MONTH: Account.PACKAGE_LIABILITY,
    Charge.Kind.VOUCHER: Account.VOUCHERS,
    Charge.Kind.DEPOSIT: Account.BOOKING_DEPOSITS,
    Charge.Kind.DEPOSIT_OFF: Account.BOOKING_DEPOSITS,
    Charge.Kind.DISCOUNT: Account.INCOME_SESSIONS,
}


@dataclass(frozen=True, slots=True)
class Change:
    """Another amount than the rule gives, and why."""

    amount: Decimal
    reason: str


@audit.action
def confirm_charges(
    *,
    day: date,
    at: datetime,
    by: User,
    changes: Mapping[str, Change] | None = None,
    keys: Collection[str] | None = None,
) -> list[Charge | Use]:
    """Charge the finished work of a day: all of it, or what `keys` names. What misses something stays proposed.

    A session that a package pays for is counted there, unless `changes` gives it an amount of its own.
    """
    changes, currency = changes or {}, the_business().currency
    for change in changes.values():
        _refuse_bad_change(change, currency)
    chosen = [proposal for proposal in proposals_for(day) if keys is None or proposal.key in keys]
    ready = [proposal for proposal in chosen if _is_ready(proposal, changes)]
    if not ready:
        reasons = " ".join(dict.fromkeys(proposal.missing for proposal in chosen))
        raise Refused(reasons or f"Nothing of {day:%-d %b %Y} is left to charge.")
    earn_ended_months(local_date(at))
    return [_confirm(proposal, changes.get(proposal.key), currency, at=at, by=by) for proposal in ready]


@audit.action
def waive_charge(*, day: date, key: str, reason: str, at: datetime, by: User) -> Charge:
    """Let a charge go, knowingly: it is kept with its amount and the reason, and is never asked for."""
    if not reason.strip():
        raise Refused("Waiving needs a reason.")
    proposal = next((each for each in proposals_for(day) if each.key == key), None)
    if proposal is None:
        raise Refused("This is charged or waived already.")
    charge = _charge(proposal, proposal.amount or Decimal(0), at=at, by=by)
    charge.state, charge.waived_reason = Charge.State.WAIVED, reason.strip()
    charge.save(force_insert=True)
    audit.record("charge waived", charge, at=at, by=by, changes=_facts(charge))
    return charge


def _is_ready(proposal: Proposal, changes: Mapping[str, Change]) -> bool:
    is_whole = proposal.amount is not None and not proposal.missing
    return bool(proposal.payers) and (is_whole or proposal.key in changes)


def _refuse_bad_change(change: Change, currency: str) -> None:
    if not change.reason.strip():
        raise Refused("A changed amount needs a reason.")
    refuse_bad_amount(change.amount, currency)


def _confirm(proposal: Proposal, change: Change | None, currency: str, *, at: datetime, by: User) -> Charge | Use:
    if proposal.covered is not None and proposal.session is not None and change is None:
        return use_session(session=proposal.session, covered=proposal.covered, on=proposal.day, at=at, by=by)
    charge = _charge(proposal, change.amount if change else proposal.amount or Decimal(0), at=at, by=by)
    charge.changed_reason = change.reason.strip() if change else ""
    charge.save(force_insert=True)
    parts = split_amount(charge.amount, [share.share for share in proposal.payers], currency)
    ChargeShare.objects.bulk_create(
        ChargeShare(
            charge=charge,
            payer=share.payer,
            owner=share.owner,
            position=position,
            numerator=share.share.numerator,
            denominator=share.share.denominator,
            amount=part,
        )
        for position, (share, part) in enumerate(zip(proposal.payers, parts, strict=True), start=1)
    )
    audit.record("charge confirmed", charge, at=at, by=by, changes=_facts(charge))
    return charge


def _charge(proposal: Proposal, amount: Decimal, *, at: datetime, by: User) -> Charge:
    return Charge(
        kind=proposal.kind,
        animal=proposal.animal,
        visit=proposal.visit,
        session=proposal.session,
        sold=proposal.sold,
        voucher=proposal.voucher,
        plan_month=write_month(proposal.plan_month) if proposal.plan_month else None,
        hire=proposal.hire,
        deduction=proposal.deduction,
        work_day=proposal.day,
        text=proposal.text[:200],
        reason=proposal.reason[:300],
        amount=amount,
        tax_category=proposal.tax_category,
        confirmed_at=at,
        confirmed_by=by,
    )


def _facts(charge: Charge) -> dict[str, object]:
    return {"kind": charge.kind, "visit": charge.visit_id, "amount": charge.amount, "state": charge.state}


@audit.action
def draft_invoices(*, at: datetime, by: User, payer: Person | None = None) -> list[Invoice]:
    """Lay what is confirmed into one draft for each payer; a draft that is open already takes the new lines.

    Where invoices carry an e-invoice, what is outside of tax goes into a draft of its own (EN 16931 BR-O-11).
    """
    shares, book = shares_to_invoice().filter(payer=payer) if payer else shares_to_invoice(), tax_book()
    is_apart = the_business().e_invoice

    def paper_of(share: ChargeShare) -> tuple[str, int, bool]:
        outside = book.is_outside(share.charge.tax_category, share.payer_id, share.charge.work_day)
        return share.payer.name, share.payer_id, is_apart and outside

    papers = groupby(sorted(shares, key=paper_of), key=paper_of)
    drafts = [_draft(list(theirs), outside if is_apart else None, at=at, by=by) for (*_, outside), theirs in papers]
    if not drafts:
        raise Refused("Nothing confirmed waits for an invoice.")
    return drafts


def _draft(shares: Sequence[ChargeShare], outside: bool | None, *, at: datetime, by: User) -> Invoice:
    """`outside`: only with what is outside of tax, or only with the rest; None: with either."""
    payer = shares[0].payer
    drafts = Invoice.objects.filter(payer=payer, state=Invoice.State.DRAFT)
    if outside is not None:
        of_outside = Exists(InvoiceLine.objects.filter(invoice=OuterRef("pk"), tax_group=OUTSIDE))
        drafts = drafts.filter(of_outside if outside else ~of_outside)
    draft = drafts.first()
    if draft is None:
        draft = Invoice.objects.create(payer=payer, made_at=at, currency=the_business().currency)
    last = draft.lines.aggregate(last=Max("position"))["last"] or 0
    InvoiceLine.objects.bulk_create(
        InvoiceLine(
            invoice=draft,
            position=position,
            charge_share=share,
            text=share.charge.text,
            reason="" if share.charge.changed_reason else share.charge.reason,
            amount=share.amount,
        )
        for position, share in enumerate(shares, start=last + 1)
    )
    take_off(draft, lines_of(draft), outside, at=at, by=by)
    _write_totals(draft, lines_of(draft))
    changes = {"payer": payer.pk, "lines": len(shares), "total": draft.total}
    audit.record("invoice drafted", draft, at=at, by=by, changes=changes)
    return draft


def _write_totals(invoice: Invoice, lines: Sequence[InvoiceLine]) -> Totals:
    """Count the sums anew: a rate that was recorded since counts by its own dates."""
    counted = totals_of(lines, tax_book(), invoice.currency)
    for line, net, group in zip(lines, counted.nets, counted.of_lines, strict=True):
        line.net, line.tax_group = net, group.category
        line.tax_percent = group.rate.percent if group.rate else Decimal(0)
    InvoiceLine.objects.bulk_update(lines, ["net", "tax_percent", "tax_group"])
    invoice.net, invoice.tax, invoice.total = counted.net, counted.tax, counted.total
    invoice.save(update_fields=["net", "tax", "total"])
    return counted


@audit.action
def discard_invoice(*, invoice: Invoice, at: datetime, by: User) -> None:
    """Throw a draft away. It had no number; what it charged waits for the next draft."""
    invoice = _locked(invoice)
    if invoice.state != Invoice.State.DRAFT:
        raise Refused("Only a draft can be thrown away: an issued invoice stands.")
    audit.record("draft discarded", invoice, at=at, by=by, changes={"payer": invoice.payer_id, "total": invoice.total})
    only_here = put_back(invoice)
    invoice.delete()
    Charge.objects.filter(pk__in=only_here).delete()


def issue_invoice(*, invoice: Invoice, on: date, at: datetime, by: User) -> Invoice:
    """Give a draft its number, words, sums, PDF and postings, for good: all of it or nothing."""
    prepare_renderer()  # its import takes a second, too long for the lock that all issuers wait for
    return _issue(invoice=invoice, on=on, at=at, by=by)


@audit.action
def _issue(*, invoice: Invoice, on: date, at: datetime, by: User) -> Invoice:
    invoice, business = _locked(invoice), the_business()
    if invoice.state != Invoice.State.DRAFT:
        raise Refused("Only a draft can be issued.")
    lines = lines_of(invoice)
    _refuse_bad_day(lines, on=on, today=local_date(at))
    invoice.number = take_number("invoice")
    invoice.issued_on, invoice.issued_at, invoice.issued_by = on, at, by
    invoice.due_on = on + timedelta(days=business.payment_days)
    counted = _write_totals(invoice, lines)
    invoice.frozen = frozen_invoice(invoice=invoice, lines=lines, counted=counted, business=business)
    content = printed("documents/invoice.html", "invoice", invoice.frozen, with_data=business.e_invoice)
    title = f"Invoice {invoice.name}"
    invoice.document = store_document(kind=Document.Kind.INVOICE, title=title, content=content, at=at, by=by)
    invoice.state = Invoice.State.ISSUED
    invoice.save()
    post(day=on, text=title, source=invoice, entries=_entries(invoice, lines))
    _take_in_prepaid(lines, on)
    changes = {"number": invoice.number, "payer": invoice.payer_id, "total": invoice.total, "due_on": invoice.due_on}
    audit.record("invoice issued", invoice, at=at, by=by, changes=changes)
    return invoice


def _take_in_prepaid(lines: Iterable[InvoiceLine], on: date) -> None:
    """Packages, plan months and gift vouchers of the invoice are owed from now on."""
    for line in lines:
        charge = line.charge_share.charge
        prepaid = charge.sold or charge.plan_month
        if prepaid is not None:
            take_in(prepaid, line.net, on)
        elif charge.voucher is not None:
            vouchers.take_in(charge.voucher, line.net)


def _refuse_bad_day(lines: Iterable[InvoiceLine], *, on: date, today: date) -> None:
    days = [line.charge_share.charge.work_day for line in lines]
    if not days:
        raise Refused("A draft without lines is not issued.")
    if on > today:
        raise Refused("An invoice is not dated ahead of today.")
    if on < max(days):
        raise Refused(f"The invoice has work of {max(days):%-d %b %Y} and is not dated before it.")
    last = Invoice.objects.aggregate(last=Max("issued_on"))["last"]
    if last is not None and on < last:
        raise Refused(f"An invoice of {last:%-d %b %Y} is out already: numbers and dates run the same way.")


def _entries(invoice: Invoice, lines: Sequence[InvoiceLine]) -> list[Entry]:
    income = totals((ACCOUNTS[Charge.Kind(line.charge_share.charge.kind)], line.net) for line in lines)
    return [
        (Account.RECEIVABLE, invoice.total, invoice.payer),
        *((account, -amount, None) for account, amount in income.items()),
        (Account.TAX_PAYABLE, -invoice.tax, None),
    ]


def _locked(invoice: Invoice) -> Invoice:
    return Invoice.objects.select_for_update(of=("self",)).select_related("payer").get(pk=invoice.pk)
