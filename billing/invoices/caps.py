"""Somebody who pays in the owners' place pays up to a cap; what does not fit is asked of the owner."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from backoffice.business.queries import the_business
from billing.invoices.models import Charge, ChargeShare
from billing.invoices.proposals import Proposal
from billing.money.shares import split_amount
from billing.money.words import say_amount
from billing.prices.models import PayerCap
from billing.prices.queries import latest
from clients.animals.facts import PayerShare

Month = tuple[int, date]  # whose, and the month's first day


def within_caps(found: dict[date, list[Proposal]]) -> dict[date, list[Proposal]]:
    """The same proposals; a part that would pass the cap of its payer is asked of the owner, with the reason on the
    line. Parts are taken in the order of the days, as they are charged."""
    stand_ins = {
        share.payer.pk
        for proposals in found.values()
        for each in proposals
        for share in each.payers
        if _stands_in(share)
    }
    caps = _caps_of(stand_ins)
    if not caps:
        return found
    spent, currency = _spent(caps, found), the_business().currency
    return {
        day: [_capped(each, caps, spent, currency) for each in proposals] for day, proposals in sorted(found.items())
    }


def _stands_in(share: PayerShare) -> bool:
    return share.payer.pk not in {share.owner.pk, share.owner.guardian_id}


def _caps_of(people: Iterable[int]) -> dict[int, list[PayerCap]]:
    caps: dict[int, list[PayerCap]] = defaultdict(list)
    for cap in PayerCap.objects.filter(person__in=set(people)) if people else ():
        caps[cap.person_id].append(cap)
    return caps


def _spent(caps: Mapping[int, object], days: Iterable[date]) -> dict[Month, Decimal]:
    """What each of them is charged for owners in the months of these days already."""
    months = {day.replace(day=1) for day in days}
    rows = ChargeShare.objects.filter(
        payer__in=list(caps), charge__state=Charge.State.CONFIRMED, charge__work_day__gte=min(months)
    )
    spent: dict[Month, Decimal] = defaultdict(Decimal)
    for payer, owner, day, amount in rows.values_list("payer", "owner", "charge__work_day", "amount"):
        if owner is not None and owner != payer:
            spent[payer, day.replace(day=1)] += amount
    return spent


def _capped(
    proposal: Proposal, caps: Mapping[int, list[PayerCap]], spent: dict[Month, Decimal], currency: str
) -> Proposal:
    if not proposal.amount or proposal.covered is not None or not proposal.payers:
        return proposal
    parts = split_amount(proposal.amount, [share.share for share in proposal.payers], currency)
    payers, told = [], []
    for share, part in zip(proposal.payers, parts, strict=True):
        cap = latest(caps.get(share.payer.pk, ()), proposal.day) if _stands_in(share) else None
        month = (share.payer.pk, proposal.day.replace(day=1))
        room = cap.amount - (spent[month] if cap.per == PayerCap.Per.MONTH else 0) if cap else part
        if cap is not None and part > room:
            payers.append(PayerShare(share.owner, share.owner, share.share))
            per = "a month" if cap.per == PayerCap.Per.MONTH else "for one charge"
            told.append(
                f"over the {say_amount(cap.amount, currency)} {per} that {share.payer} pays: asked of {share.owner}"
            )
        else:
            payers.append(share)
            spent[month] += part if cap is not None else 0
    reason = "; ".join([proposal.reason, *dict.fromkeys(told)]) if told else proposal.reason
    return replace(proposal, payers=tuple(payers), reason=reason)
