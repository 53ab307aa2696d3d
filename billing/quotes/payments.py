"""When an option is paid: dates and amounts that add up to its total."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.money.pricing import WHAT_WORDS, Line, What
from billing.money.rounding import to_units
from billing.money.shares import split_amount
from billing.money.totals import totals
from billing.quotes.request import PricingRequest

NOTHING = Decimal(0)
BOOKING_DEPOSIT = "Booking deposit"
VISIT = "Visit"
# What a day's visit is called: after the first of these that is paid on it.
VISITS = {
    What.FULL: VISIT,
    What.SPOT: VISIT,
    What.TRAINING: WHAT_WORDS[What.TRAINING],
    What.FOLLOW_UP: WHAT_WORDS[What.FOLLOW_UP],
    What.COLLECTION: WHAT_WORDS[What.COLLECTION],
    What.CALL_OUT: WHAT_WORDS[What.CALL_OUT],
}
RANKS = {what: rank for rank, what in enumerate(VISITS)}


@dataclass(frozen=True, slots=True)
class Payment:
    """An amount that is paid on a day, or, without a day, when the option is accepted."""

    on: date | None
    what: str
    amount: Decimal


def payments_of_owners(
    request: PricingRequest, lines: Sequence[Line], gross: Mapping[str, Decimal]
) -> dict[str, tuple[Payment, ...]]:
    """Each owner's payments, which add up to the owner's money with tax (`gross`).

    A package and the rent are paid on the first day, a plan month on its first day, a visit on its day. Tax and
    discount are divided over them by largest remainder. The booking deposit comes first and is deducted from the
    payments that follow, in their order, until it is used up; a payment that it covers whole falls away.
    """
    deposits = _deposits(request, gross)
    return {
        owner: _payments(request, [line for line in lines if line.owner == owner and line.on], whole, deposits[owner])
        for owner, whole in gross.items()
    }


def all_payments(owners: Iterable[Sequence[Payment]]) -> tuple[Payment, ...]:
    """The payments of all owners together: one for each day and what it is for."""
    amounts = totals(((each.on, each.what), each.amount) for owner in owners for each in owner)
    found = [Payment(on, what, amount) for (on, what), amount in amounts.items()]
    return tuple(sorted(found, key=lambda each: (each.on is not None, each.on or date.min)))


def _deposits(request: PricingRequest, gross: Mapping[str, Decimal]) -> dict[str, Decimal]:
    whole = sum(gross.values(), NOTHING)
    if request.booking_deposit is None or not whole:
        return dict.fromkeys(gross, NOTHING)
    deposit = request.booking_deposit.of(whole, request.currency)
    return dict(zip(gross, split_amount(deposit, list(gross.values()), request.currency), strict=True))


def _payments(request: PricingRequest, lines: Sequence[Line], whole: Decimal, deposit: Decimal) -> tuple[Payment, ...]:
    charges = _charges(lines)
    raw = [amount for _on, _what, amount in charges]
    if sum(raw, NOTHING) != whole:
        raw = split_amount(whole, [to_units(amount, request.currency) for amount in raw], request.currency)
    payments = [Payment(None, BOOKING_DEPOSIT, deposit)]
    for (on, what, _charge), amount in zip(charges, raw, strict=True):
        covered = min(deposit, amount)
        deposit -= covered
        payments.append(Payment(on, what, amount - covered))
    return tuple(payment for payment in payments if payment.amount)


def _charges(lines: Sequence[Line]) -> list[tuple[date, str, Decimal]]:
    """What is due before tax and discount: by date, and on a date packages, plan months, rent, then the visit."""
    fixed: dict[tuple[date, int, str], Decimal] = {}
    visits: dict[date, Decimal] = {}
    ranks: dict[date, int] = {}
    for line in lines:
        if line.what in RANKS:
            rank = RANKS[line.what]
            for on in line.on:
                visits[on] = visits.get(on, NOTHING) + line.each
                ranks[on] = min(ranks.get(on, rank), rank)
        else:
            order, what = _fixed(line)
            for on in line.on:
                fixed[on, order, what] = fixed.get((on, order, what), NOTHING) + line.each
    names = list(VISITS.values())
    for on, amount in visits.items():
        fixed[on, len(What), names[ranks[on]]] = amount
    return [(on, what, amount) for (on, _order, what), amount in sorted(fixed.items()) if amount]


def _fixed(line: Line) -> tuple[int, str]:
    if line.what in (What.PACKAGE, What.MONTHLY):
        return (0 if line.what == What.PACKAGE else 1), line.name
    return 2, WHAT_WORDS[What.RENT]
