"""Each horse's part of the call-out of a stop, by the rule, the distance and what a quote promised."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from billing.invoices.agreed import less_discount
from billing.invoices.models import Charge
from billing.invoices.proposals import DayOfWork, Proposal
from billing.money.call_out import CallOut, Split, call_out_parts
from billing.money.words import ordinal
from billing.prices.call_outs import Stop, price_stop
from billing.prices.models import CallOutRule
from clients.visits.models import Visit


def call_out_proposals(work: DayOfWork) -> Iterator[Proposal]:
    stops: dict[tuple[int, int], list[Visit]] = {}
    for visit in work.visits:
        if visit.status == Visit.Status.COMPLETED:
            stops.setdefault((visit.barn_id, visit.part), []).append(visit)
    for visits in stops.values():
        rule = work.book.call_out_for(visits[0].barn.call_out_zone, work.day)
        if rule is None:
            continue
        stop = price_stop(rule, work.distances.get(visits[0].barn_id), work.unit, work.currency)
        if stop.amount is None:
            yield from _unpriced(work, stop, _one_a_horse(work, visits))
        elif stop.amount:
            yield from _parts_of_stop(work, rule, stop, stop.amount, _one_a_horse(work, visits))


def _unpriced(work: DayOfWork, stop: Stop, visits: Sequence[Visit]) -> Iterator[Proposal]:
    for visit in visits:
        if visit.pk not in work.charged_call_outs:
            yield replace(_bare(work, visit), missing=f"{stop.missing} Mend that, or change the amount here.")


def _bare(work: DayOfWork, visit: Visit) -> Proposal:
    return Proposal(
        kind=Charge.Kind.CALL_OUT,
        day=work.day,
        animal=visit.animal,
        visit=visit,
        text=f"Call-out, {visit.animal}",
        amount=None,
        reason="",
        payers=work.payers_of(visit.animal_id),
    )


def _one_a_horse(work: DayOfWork, visits: Sequence[Visit]) -> list[Visit]:
    """A horse with two visits at one stop is driven to once: the visit that carries its part already, or the first."""
    chosen: dict[int, Visit] = {}
    for visit in visits:
        if visit.animal_id not in chosen or visit.pk in work.charged_call_outs:
            chosen[visit.animal_id] = visit
    return list(chosen.values())


def _parts_of_stop(
    work: DayOfWork, rule: CallOutRule, stop: Stop, whole: Decimal, visits: Sequence[Visit]
) -> Iterator[Proposal]:
    owners = tuple(_owner_of(work, visit) for visit in visits)
    parts = call_out_parts(CallOut(whole, Split(rule.split)), owners, work.currency)
    charged = sum((work.charged_call_outs.get(visit.pk, Decimal(0)) for visit in visits), Decimal(0))
    left = whole - charged
    for place, (visit, part) in enumerate(zip(visits, parts, strict=True)):
        if visit.pk in work.charged_call_outs:
            continue
        reason = _why(work, rule, whole, owners, place) + (f" ({stop.why})" if stop.why else "")
        if rule.split != CallOutRule.Split.NONE:
            if part > left:
                part, reason = max(left, Decimal(0)), f"{reason}; {work.say(charged)} is charged already"
            left -= part
        yield _at_most(work, visit, part, reason)


def _at_most(work: DayOfWork, visit: Visit, part: Decimal, reason: str) -> Proposal:
    """What an accepted quote promised is never exceeded; what it took off is taken off."""
    agreed = work.agreed_for(visit)
    if agreed is not None and part > agreed.call_out_at_most:
        most, ours = agreed.call_out_at_most, part - agreed.call_out_at_most
        reason = f"{reason}; at most {work.say(most)} by quote {agreed.quote.number}, we bear {work.say(ours)}"
        part = most
    return less_discount(replace(_bare(work, visit), amount=part, reason=reason), agreed, work.currency)


def _owner_of(work: DayOfWork, visit: Visit) -> str:
    """Co-owners of one horse are one owner of a stop; a horse without owners stands by itself."""
    owners = [str(share.owner.pk) for share in work.payers_of(visit.animal_id)]
    return "+".join(owners) or f"horse {visit.animal_id}"


def _why(work: DayOfWork, rule: CallOutRule, amount: Decimal, owners: Sequence[str], place: int) -> str:
    whole = work.say(amount)
    if rule.split == CallOutRule.Split.NONE:
        return f"{whole} for each horse"
    if len(owners) == 1:
        return f"only horse at the stop: {whole}"
    if rule.split == CallOutRule.Split.HORSE:
        return f"{ordinal(place + 1)} horse at the stop: {whole} / {len(owners)}"
    horses = Counter(owners)
    seat = list(horses).index(owners[place]) + 1
    theirs = f" / {horses[owners[place]]} horses" if horses[owners[place]] > 1 else ""
    if len(horses) == 1:
        return f"only owner at the stop: {whole}{theirs}"
    return f"{ordinal(seat)} owner at the stop: {whole} / {len(horses)}{theirs}"
