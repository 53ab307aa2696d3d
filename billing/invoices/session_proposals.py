"""What each finished session costs, or what pays for it; and the fee for a visit without work."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from billing.invoices.agreed import less_discount
from billing.invoices.models import Charge
from billing.invoices.proposals import STANDARD, DayOfWork, Proposal, say_horses
from billing.money.portion import Portion
from billing.prices.words import FEE_WORDS, plain_number
from billing.quotes.models import AgreedHire, AgreedPlan
from clients.visits.models import Session, Visit

FEES = {
    Visit.Status.COULD_NOT_WORK: (Charge.Kind.COULD_NOT_WORK, "Visit without work"),
    Visit.Status.CANCELLED: (Charge.Kind.LATE_CANCEL, "Late cancellation"),
}


def session_proposals(work: DayOfWork, visit: Visit) -> Iterator[Proposal]:
    for session in work.sessions.get(visit.pk, ()):
        if session.pk not in work.charged_sessions:
            yield _covered(work, visit, session) or _priced(work, visit, session)


def _covered(work: DayOfWork, visit: Visit, session: Session) -> Proposal | None:
    covered = work.coverage.take(session, visit, work.payers_for(visit))
    if covered is None:
        return None
    bare = _bare(work, visit, session)
    return replace(bare, amount=Decimal(0), reason=covered.reason, covered=covered)


def _bare(work: DayOfWork, visit: Visit, session: Session) -> Proposal:
    return Proposal(
        kind=Charge.Kind.SESSION,
        day=work.day,
        animal=work.asked_about(work.animals_of(visit)),
        visit=visit,
        session=session,
        text=f"{session.service}, {say_horses(work.animals_of(visit))}",
        amount=None,
        reason="",
        payers=work.payers_for(visit),
    )


def _priced(work: DayOfWork, visit: Visit, session: Session) -> Proposal:
    """By what a running plan asks beyond its number, else by an accepted quote, else by the list."""
    bare, payers = _bare(work, visit, session), work.payers_for(visit)
    price_list = work.book.price_list_of(payers[0].payer.pk if payers else None, work.day)
    price = work.book.price_of(session.service_id, price_list, work.day)
    if price is not None:
        reason = f"{price.price_list} price from {price.since:%-d %b %Y}"
        bare = replace(bare, amount=price.amount, reason=reason, tax_category=price.tax_category)
    beyond = work.coverage.price_beyond(session, visit)
    agreed = work.agreed_for(visit)
    fixed = beyond or _agreed_price(agreed, session)
    if fixed is not None:
        bare = replace(bare, amount=fixed[0], reason=fixed[1])
    elif price is None:
        missing = f"No price of {session.service} is recorded for this day: record one, or change the amount here."
        return replace(bare, missing=missing)
    why = work.coverage.why_not(session, visit, payers)
    return less_discount(replace(bare, reason=f"{bare.reason}; {why}") if why else bare, agreed, work.currency)


def _agreed_price(agreed: AgreedPlan | AgreedHire | None, session: Session) -> tuple[Decimal, str] | None:
    """The price of an accepted quote, which wins over the list."""
    if agreed is None:
        return None
    price = agreed.price_of(session.service)
    return None if price is None else (price, f"agreed in quote {agreed.quote.number}")


def fee_proposals(work: DayOfWork, visit: Visit, call_out: Decimal) -> Iterator[Proposal]:
    """By the practitioner's rule, in percent of what the service would have cost; `call_out` is their part of it."""
    found = FEES.get(Visit.Status(visit.status))
    if found is None or visit.pk in work.charged_fees:
        return
    kind, words = found
    bare = Proposal(
        kind=kind,
        day=work.day,
        animal=work.asked_about(work.animals_of(visit)),
        visit=visit,
        text=f"{words}, {say_horses(work.animals_of(visit))}",
        amount=Decimal(0),
        reason="",
        payers=work.payers_for(visit),
    )
    yield _by_rule(work, visit, bare, call_out)


def _by_rule(work: DayOfWork, visit: Visit, bare: Proposal, call_out: Decimal) -> Proposal:
    """No condition of a horse is named: the reason goes on the invoice."""
    rule, column = work.book.fee_rule_on(work.day), _column_of(visit)
    if column not in FEE_WORDS:
        return replace(bare, reason="no fee in any case")
    why, percent = FEE_WORDS[column], getattr(rule, column)
    if not percent:
        return replace(bare, reason=f"{why}: no fee by your rule")
    price_list = work.book.price_list_of(bare.payers[0].payer.pk if bare.payers else None, work.day)
    price = work.book.price_of(visit.service_id, price_list, work.day)
    agreed = work.agreed_for(visit)
    whole = (agreed.price_of(visit.service) if agreed else None) or (price.amount if price else None)
    if whole is None:
        return replace(bare, amount=None, missing=f"No price of {visit.service} is recorded for this day.")
    fee = Portion(percent=percent).of(whole, work.currency)
    reason = f"{why}: {plain_number(percent)} % of {work.say(whole)}"
    if rule.with_call_out and call_out:
        fee, reason = fee + call_out, f"{reason}, and {work.say(call_out)} of the call-out"
    return replace(bare, amount=fee, reason=reason, tax_category=price.tax_category if price else STANDARD)


def _column_of(visit: Visit) -> str:
    return "late_cancel" if visit.status == Visit.Status.CANCELLED else visit.cause
