"""What is paid before the sessions: packages sold, months of running plans, booking deposits."""

from collections.abc import Iterator
from fractions import Fraction

from billing.invoices.models import Charge
from billing.invoices.proposals import DayOfWork, Proposal
from billing.packages.coverage import terms_of
from billing.packages.sold import Deduction, MonthlyRun, PackageSold, PlanMonth
from billing.prices.models import OF_VOUCHERS
from billing.vouchers.models import Voucher
from clients.animals.facts import PayerShare
from clients.people.models import Person


def prepaid_proposals(work: DayOfWork) -> Iterator[Proposal]:
    for sold in work.sold:
        yield _package(work, sold)
    for month in work.plan_months:
        yield _plan_month(work, month)
    for deposit in work.deposits:
        yield _deposit(work, deposit)
    for voucher in work.vouchers:
        yield _voucher(work, voucher)


def _alone(payer: Person) -> tuple[PayerShare, ...]:
    return (PayerShare(payer, payer, Fraction(1)),)


def _on_hold(work: DayOfWork, prepaid: PackageSold | MonthlyRun | Deduction) -> str:
    return work.held_quotes.get(prepaid.quote_number or 0, "")


def _package(work: DayOfWork, sold: PackageSold) -> Proposal:
    parts = ", ".join(str(part) for part in sold.parts.all())
    until = f", until {sold.ends_on:%-d %b %Y}" if sold.ends_on else ""
    agreed = f", agreed in quote {sold.quote_number}" if sold.quote_number else ""
    return Proposal(
        kind=Charge.Kind.PACKAGE,
        day=work.day,
        sold=sold,
        text=sold.name,
        amount=sold.price,
        reason=f"{parts}{until}{agreed}",
        payers=_alone(sold.payer),
        missing=_on_hold(work, sold),
        tax_category=sold.tax_category,
    )


def _voucher(work: DayOfWork, voucher: Voucher) -> Proposal:
    until = f"good until {voucher.ends_on:%-d %b %Y}; " if voucher.ends_on else ""
    return Proposal(
        kind=Charge.Kind.VOUCHER,
        day=work.day,
        voucher=voucher,
        text=str(voucher) + (f" for {voucher.for_whom}" if voucher.for_whom else ""),
        amount=voucher.amount,
        reason=f"{until}what it pays for is taxed when it is used",
        payers=_alone(voucher.payer),
        tax_category=OF_VOUCHERS,
    )


def _plan_month(work: DayOfWork, month: PlanMonth) -> Proposal:
    run, span = month.run, month.month
    terms = terms_of(run)
    parts = ", ".join(f"{terms.included(str(part.service_id), span)} × {part.service}" for part in run.parts.all())
    part = "" if span.part == 1 else f", {span.days} of {span.whole} days"
    return Proposal(
        kind=Charge.Kind.PLAN_MONTH,
        day=work.day,
        animal=run.animal,
        plan_month=month,
        text=f"{run.name}, {run.animal}",
        amount=terms.price_of(span, work.currency),
        reason=f"month from {month.first:%-d %b %Y}{part}: {parts}",
        payers=work.payers_of(run.animal_id),
        missing=_on_hold(work, run),
        tax_category=run.tax_category,
    )


def _deposit(work: DayOfWork, deposit: Deduction) -> Proposal:
    return Proposal(
        kind=Charge.Kind.DEPOSIT,
        day=work.day,
        deduction=deposit,
        text="Booking deposit",
        amount=deposit.amount,
        reason=f"{deposit.reason}; part of the price, taken off the next invoice",
        payers=_alone(deposit.payer),
        missing=_on_hold(work, deposit),
        tax_category=deposit.tax_category,
    )
