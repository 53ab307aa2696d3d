"""What finished work costs and why: one proposal for each session, each horse's part of a call-out, each fee."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from billing.invoices.models import Charge
from billing.money.call_out import CallOut, Split, call_out_parts
from billing.money.words import ordinal, plain
from billing.prices.models import CallOutRule
from billing.prices.queries import PriceBook
from billing.quotes.models import AgreedPlan
from clients.animals.facts import PayerShare
from clients.animals.shares import say_share
from clients.visits.models import Session, Visit

STANDARD = "standard"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A charge that waits for a person. `missing` says what stands in its way; without a price, `amount` is None."""

    kind: Charge.Kind
    visit: Visit
    text: str
    amount: Decimal | None
    reason: str
    payers: tuple[PayerShare, ...]
    session: Session | None = None
    tax_category: str = STANDARD
    missing: str = ""

    @property
    def key(self) -> str:
        """Names the proposal in forms and addresses: the session or the visit, and what it is for."""
        return f"{self.kind}-{self.session.pk if self.session else self.visit.pk}"

    @property
    def who(self) -> str:
        """Who is asked for it, with the shares of several: “Delphine 50 %, Corin 50 %”."""
        if len(self.payers) == 1:
            return self.payers[0].payer.name
        return ", ".join(f"{share.payer} {say_share(share.share)}" for share in self.payers)


@dataclass(frozen=True, slots=True)
class DayOfWork:
    """All that the charges of one day follow from. `visits` holds every finished visit, charged or not."""

    day: date
    visits: Sequence[Visit]
    sessions: Mapping[int, Sequence[Session]]
    payers: Mapping[int, Sequence[PayerShare]]
    agreed: Mapping[int, AgreedPlan]
    book: PriceBook
    currency: str
    charged_sessions: Collection[int] = field(default_factory=frozenset)
    charged_call_outs: Mapping[int, Decimal] = field(default_factory=dict)
    charged_fees: Collection[int] = field(default_factory=frozenset)

    def payers_of(self, visit: Visit) -> tuple[PayerShare, ...]:
        return tuple(self.payers.get(visit.animal_id, ()))

    def agreed_for(self, visit: Visit) -> AgreedPlan | None:
        return self.agreed.get(visit.plan_id) if visit.plan_id is not None else None

    def say(self, amount: Decimal) -> str:
        return plain(amount, self.currency)


def proposals_of(work: DayOfWork) -> list[Proposal]:
    """The day's proposals, visit by visit in the order of the day: sessions, then the call-out, then a fee."""
    call_outs = {proposal.visit.pk: proposal for proposal in _call_outs(work)}
    found: list[Proposal] = []
    for visit in work.visits:
        found += _sessions(work, visit)
        if visit.pk in call_outs:
            found.append(call_outs[visit.pk])
        found += _fees(work, visit)
    return [_with_payers_checked(proposal) for proposal in found]


def _with_payers_checked(proposal: Proposal) -> Proposal:
    if proposal.payers:
        return proposal
    animal, day = proposal.visit.animal, proposal.visit.day
    return replace(proposal, missing=f"{animal} has no owner on {day:%-d %b %Y}: write down who owns it.")


def _sessions(work: DayOfWork, visit: Visit) -> Iterator[Proposal]:
    for session in work.sessions.get(visit.pk, ()):
        if session.pk not in work.charged_sessions:
            yield _session(work, visit, session)


def _session(work: DayOfWork, visit: Visit, session: Session) -> Proposal:
    payers = work.payers_of(visit)
    price_list = work.book.price_list_of(payers[0].payer.pk if payers else None, work.day)
    price = work.book.price_of(session.service_id, price_list, work.day)
    bare = Proposal(
        kind=Charge.Kind.SESSION,
        visit=visit,
        session=session,
        text=f"{session.service}, {visit.animal}",
        amount=price.amount if price else None,
        reason=f"{price.price_list} price from {price.since:%-d %b %Y}" if price else "",
        payers=payers,
        tax_category=price.tax_category if price else STANDARD,
    )
    agreed = _agreed_price(work.agreed_for(visit), session)
    if agreed is not None:
        return replace(bare, amount=agreed[0], reason=agreed[1])
    if price is None:
        missing = f"No price of {session.service} is recorded for this day: record one, or change the amount here."
        return replace(bare, missing=missing)
    return bare


def _agreed_price(agreed: AgreedPlan | None, session: Session) -> tuple[Decimal, str] | None:
    """The price of an accepted quote, which wins over the list."""
    if agreed is None:
        return None
    prices = {agreed.plan.full_service_id: agreed.full_price, agreed.plan.spot_service_id: agreed.spot_price}
    price = prices.get(session.service_id)
    return None if price is None else (price, f"agreed in quote {agreed.quote.number}")


def _fees(work: DayOfWork, visit: Visit) -> Iterator[Proposal]:
    kinds = {
        Visit.Status.COULD_NOT_WORK: (Charge.Kind.COULD_NOT_WORK, "Visit without work"),
        Visit.Status.CANCELLED: (Charge.Kind.LATE_CANCEL, "Late cancellation"),
    }
    found = kinds.get(Visit.Status(visit.status))
    if found is None or visit.pk in work.charged_fees:
        return
    kind, words = found
    yield Proposal(
        kind=kind,
        visit=visit,
        text=f"{words}, {visit.animal}",
        amount=Decimal(0),
        reason="no fee unless you set one here",
        payers=work.payers_of(visit),
    )


def _call_outs(work: DayOfWork) -> Iterator[Proposal]:
    stops: dict[tuple[int, int], list[Visit]] = {}
    for visit in work.visits:
        if visit.status == Visit.Status.COMPLETED:
            stops.setdefault((visit.barn_id, visit.part), []).append(visit)
    for visits in stops.values():
        rule = work.book.call_out_for(visits[0].barn.call_out_zone, work.day)
        if rule is not None and rule.amount:
            yield from _parts_of_stop(work, rule, _one_a_horse(work, visits))


def _one_a_horse(work: DayOfWork, visits: Sequence[Visit]) -> list[Visit]:
    """A horse with two visits at one stop is driven to once: the visit that carries its part already, or the first."""
    chosen: dict[int, Visit] = {}
    for visit in visits:
        if visit.animal_id not in chosen or visit.pk in work.charged_call_outs:
            chosen[visit.animal_id] = visit
    return list(chosen.values())


def _parts_of_stop(work: DayOfWork, rule: CallOutRule, visits: Sequence[Visit]) -> Iterator[Proposal]:
    owners = tuple(_owner_of(work, visit) for visit in visits)
    parts = call_out_parts(CallOut(rule.amount, Split(rule.split)), owners, work.currency)
    charged = sum((work.charged_call_outs.get(visit.pk, Decimal(0)) for visit in visits), Decimal(0))
    left = rule.amount - charged
    for place, (visit, part) in enumerate(zip(visits, parts, strict=True)):
        if visit.pk in work.charged_call_outs:
            continue
        reason = _why(work, rule, owners, place)
        if rule.split != CallOutRule.Split.NONE:
            if part > left:
                part, reason = max(left, Decimal(0)), f"{reason}; {work.say(charged)} is charged already"
            left -= part
        yield _call_out(work, visit, part, reason)


def _call_out(work: DayOfWork, visit: Visit, part: Decimal, reason: str) -> Proposal:
    agreed = work.agreed_for(visit)
    if agreed is not None and part > agreed.call_out_at_most:
        most, ours = agreed.call_out_at_most, part - agreed.call_out_at_most
        reason = f"{reason}; at most {work.say(most)} by quote {agreed.quote.number}, we bear {work.say(ours)}"
        part = most
    return Proposal(
        kind=Charge.Kind.CALL_OUT,
        visit=visit,
        text=f"Call-out, {visit.animal}",
        amount=part,
        reason=reason,
        payers=work.payers_of(visit),
    )


def _owner_of(work: DayOfWork, visit: Visit) -> str:
    """Co-owners of one horse are one owner of a stop; a horse without owners stands by itself."""
    owners = [str(share.owner.pk) for share in work.payers_of(visit)]
    return "+".join(owners) or f"horse {visit.animal_id}"


def _why(work: DayOfWork, rule: CallOutRule, owners: Sequence[str], place: int) -> str:
    whole = work.say(rule.amount)
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
