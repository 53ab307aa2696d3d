"""Each horse's part of the call-out of a stop, by the rule, the distance and what a quote promised."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from billing.invoices.agreed import less_discount
from billing.invoices.models import Charge
from billing.invoices.proposals import DayOfWork, Proposal, say_horses
from billing.money.call_out import CallOut, Split, call_out_parts
from billing.money.words import ordinal
from billing.prices.call_outs import Stop, price_stop
from billing.prices.models import CallOutRule
from billing.quotes.models import AgreedHire, AgreedPlan
from clients.animals.models import Animal
from clients.people.models import Barn
from clients.visits.models import Visit


@dataclass(frozen=True, slots=True)
class Seat:
    """Whom a stop is for: the horse of a visit, or all that share a hired machine; `charged` is None until it is.

    `is_unworked` keeps the part of a visit that was cancelled late or could not be worked: nobody else's part rises.
    """

    animals: tuple[Animal, ...]
    barn: Barn
    agreed: AgreedPlan | AgreedHire | None
    charged: Decimal | None
    visit: Visit | None = None
    collected: AgreedHire | None = None
    is_unworked: bool = False

    @property
    def hire(self) -> AgreedHire | None:
        return self.agreed if isinstance(self.agreed, AgreedHire) else None


def call_out_proposals(work: DayOfWork) -> list[Proposal]:
    """Every part of every stop where somebody was worked or a machine fetched, those of unworked visits included."""
    stops: dict[tuple[int, int], list[Seat]] = {}
    for visit in work.visits:
        stops.setdefault((visit.barn_id, visit.part), []).append(_seat(work, visit))
    for hire in work.collected:
        seat = _collection(work, hire)
        stops.setdefault((seat.barn.pk, 1), []).append(seat)
    return [part for seats in stops.values() for part in _of_stop(work, seats)]


def _of_stop(work: DayOfWork, seats: Sequence[Seat]) -> Iterator[Proposal]:
    barn = seats[0].barn
    rule = work.book.call_out_for(barn.call_out_zone, work.day)
    if rule is None:
        return
    stop = price_stop(rule, work.distances.get(barn.pk), work.unit, work.currency)
    if stop.amount is None:
        yield from _unpriced(work, stop, _one_a_horse(seats))
    elif stop.amount:
        yield from _parts_of_stop(work, rule, stop, stop.amount, _one_a_horse(seats))


def _seat(work: DayOfWork, visit: Visit) -> Seat:
    charged = work.charged_call_outs.get(visit.pk)
    unworked = visit.status != Visit.Status.COMPLETED
    return Seat(work.animals_of(visit), visit.barn, work.agreed_for(visit), charged, visit=visit, is_unworked=unworked)


def _collection(work: DayOfWork, hire: AgreedHire) -> Seat:
    animals = tuple(hire.animals)
    return Seat(animals, animals[0].barn, hire, work.charged_collections.get(hire.pk), collected=hire)


def _unpriced(work: DayOfWork, stop: Stop, seats: Sequence[Seat]) -> Iterator[Proposal]:
    for seat in seats:
        if seat.charged is None:
            yield replace(_bare(work, seat), missing=f"{stop.missing} Mend that, or change the amount here.")


def _bare(work: DayOfWork, seat: Seat) -> Proposal:
    payers = work.payers_of_hire(seat.hire) if seat.hire else work.payers_of(seat.animals[0].pk)
    return Proposal(
        kind=Charge.Kind.CALL_OUT,
        day=work.day,
        animal=work.asked_about(seat.animals),
        visit=seat.visit,
        hire=seat.collected,
        text=f"Call-out, {say_horses(seat.animals)}",
        amount=None,
        reason="",
        payers=payers,
    )


def _one_a_horse(seats: Sequence[Seat]) -> list[Seat]:
    """A horse is driven to once at a stop: what carries its part already, else its worked visit, else the first."""
    ranked = sorted(seats, key=lambda seat: (seat.charged is None, seat.is_unworked, seat.hire is not None))
    chosen: dict[int, Seat] = {}
    for seat in ranked:
        for animal in seat.animals:
            chosen.setdefault(animal.pk, seat)
    kept = [replace(seat, animals=tuple(each for each in seat.animals if chosen[each.pk] is seat)) for seat in seats]
    return [seat for seat in kept if seat.animals]


def _parts_of_stop(
    work: DayOfWork, rule: CallOutRule, stop: Stop, whole: Decimal, seats: Sequence[Seat]
) -> Iterator[Proposal]:
    owners = tuple(work.owner_of(animal) for seat in seats for animal in seat.animals)
    parts = list(call_out_parts(CallOut(whole, Split(rule.split)), owners, work.currency))
    charged = sum((seat.charged for seat in seats if seat.charged is not None), Decimal(0))
    left, place = whole - charged, 0
    for seat in seats:
        theirs, first = parts[place : place + len(seat.animals)], place
        place += len(seat.animals)
        if seat.charged is not None:
            continue
        say = work.say(whole)
        alone = len(theirs) == 1
        reason = _why(rule, say, owners, first) if alone else _why_shared(rule, say, owners, len(theirs))
        reason += f" ({stop.why})" if stop.why else ""
        if rule.split == CallOutRule.Split.NONE:
            part = whole
        else:
            part = sum(theirs, Decimal(0))
            if part > left:
                part, reason = max(left, Decimal(0)), f"{reason}; {work.say(charged)} is charged already"
            left -= part
        yield _at_most(work, seat, part, reason)


def _at_most(work: DayOfWork, seat: Seat, part: Decimal, reason: str) -> Proposal:
    """What an accepted quote promised is never exceeded; what it took off is taken off."""
    agreed = seat.agreed
    if agreed is not None and part > agreed.call_out_at_most:
        most, ours = agreed.call_out_at_most, part - agreed.call_out_at_most
        reason = f"{reason}; at most {work.say(most)} by quote {agreed.quote.number}, we bear {work.say(ours)}"
        part = most
    return less_discount(replace(_bare(work, seat), amount=part, reason=reason), agreed, work.currency)


def _why(rule: CallOutRule, whole: str, owners: Sequence[str], place: int) -> str:
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


def _why_shared(rule: CallOutRule, whole: str, owners: Sequence[str], count: int) -> str:
    """Of the horses of one hired machine."""
    if rule.split == CallOutRule.Split.NONE or count == len(owners):
        return f"{count} horses with one machine: {whole}"
    return f"{count} horses with one machine, of {len(owners)} at the stop: their parts of {whole}"
