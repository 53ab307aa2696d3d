"""What is taken off an option, for each owner."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from billing.money.portion import Discount, Portion
from billing.money.pricing import Line, What
from billing.money.shares import split_amount
from billing.money.totals import totals
from billing.quotes.owner_money import spread
from billing.quotes.request import PricingRequest

NOTHING = Decimal(0)


def discount_lines(
    request: PricingRequest, discount: Discount, lines: Sequence[Line], alone: Sequence[Line]
) -> Iterator[Line]:
    """A percentage of each owner's money, half up; an amount by largest remainder over the owners' money alone.

    Never more than the owner's money. It falls on the owner's horses by their money.
    """
    off = _off_by_owner(request, discount.portion, alone)
    horses = {horse.name: horse.owner for horse in request.horses}
    falls_on = totals(part for line in lines for part in spread(line, line.amount, request.currency))
    for owner, money in _owners_money(request, lines).items():
        part = off[owner] if off is not None else discount.portion.of(money, request.currency)
        weights = tuple((name, falls_on[name]) for name, of in horses.items() if of == owner and falls_on[name])
        if min(part, money):
            amount = -min(part, money)
            yield Line("", owner, What.DISCOUNT, 1, amount, name=discount.reason, falls_on=weights)


def _off_by_owner(request: PricingRequest, portion: Portion, alone: Sequence[Line]) -> dict[str, Decimal] | None:
    """Each owner's part of an amount; None for a percentage."""
    if portion.amount is None:
        return None
    money = _owners_money(request, alone)
    whole = portion.of(sum(money.values(), NOTHING), request.currency)
    parts = split_amount(whole, list(money.values()), request.currency) if whole else [NOTHING] * len(money)
    return dict(zip(money, parts, strict=True))


def _owners_money(request: PricingRequest, lines: Sequence[Line]) -> dict[str, Decimal]:
    found = totals((line.owner, line.amount) for line in lines)
    return {horse.owner: found[horse.owner] for horse in request.horses}
