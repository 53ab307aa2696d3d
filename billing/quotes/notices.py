"""What an option's row does not show by itself, in plain sentences."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from billing.money.hire import break_even
from billing.quotes.charging import our_counts
from billing.quotes.laying import HorseDays
from billing.quotes.request import PricingRequest
from clients.plans.cadence import KIND_WORDS, Kind, say_date
from clients.plans.coverage import Coverage

PRICED_KINDS = (Kind.FULL, Kind.SPOT)


@dataclass(frozen=True, slots=True)
class BreakEven:
    """From how many visits alone the hire for `horse` costs less; None where a visit costs nothing."""

    horse: str
    full: int | None
    spot: int | None

    def __str__(self) -> str:
        parts = [f"{self.full} full-body" if self.full else "", f"{self.spot} spot" if self.spot else ""]
        return f"Hire costs less from {' or '.join(part for part in parts if part)} visits alone."


def break_evens(request: PricingRequest, laid: Sequence[HorseDays]) -> tuple[BreakEven, ...]:
    """For each horse by hire, the smallest numbers of visits alone that cost more than its hire alone."""
    found: list[BreakEven] = []
    for days in laid:
        if days.hire is None or request.hire is None:
            continue
        call_out = request.call_out.amount
        cost = request.hire.alone(request.days, our_counts(days)[Kind.FOLLOW_UP], call_out)
        counts = {kind: break_even(service, call_out, cost) for kind, service in request.services.items()}
        found.append(BreakEven(days.horse.name, counts.get(Kind.FULL), counts.get(Kind.SPOT)))
    return tuple(found)


def notices_of(
    request: PricingRequest,
    horses: Sequence[tuple[HorseDays, Coverage | None]],
    evens: Sequence[BreakEven],
) -> tuple[str, ...]:
    """Everything worth saying about an option, each sentence beginning with the horse's name."""
    by_horse = {even.horse: even for even in evens if even.full or even.spot}
    sentences: list[str] = []
    for days, coverage in horses:
        about = [*days.notices, *_uncounted(request, coverage), *_cheaper(request, days)]
        if days.horse.name in by_horse:
            about.append(str(by_horse[days.horse.name]))
        if days.hire is not None and request.hire is not None and request.hire.deposit:
            about.append(f"A deposit of {request.hire.deposit} is paid and given back; it is not in the total.")
        sentences += (f"{days.horse.name}: {sentence}" for sentence in about)
    return tuple(sentences)


def _uncounted(request: PricingRequest, coverage: Coverage | None) -> list[str]:
    if request.guideline is None or coverage is None or not coverage.uncounted:
        return []
    dates = ", ".join(_stretches(coverage.uncounted))
    within = request.guideline.spot_needs_full_within
    near = f"on the day or in the {within} days before" if within else "on the day"
    return [f"Not counted, since there is no full body {near}: spots of {dates}."]


def _stretches(days: Sequence[date]) -> list[str]:
    """Dates in words, days in a row as "Fri 6 Mar 2026 to Wed 11 Mar 2026"."""
    stretches: list[list[date]] = []
    for day in sorted(set(days)):
        if stretches and (day - stretches[-1][-1]).days == 1:
            stretches[-1][1:] = [day]
        else:
            stretches.append([day])
    return [" to ".join(say_date(day) for day in stretch) for stretch in stretches]


def _cheaper(request: PricingRequest, days: HorseDays) -> list[str]:
    counts = our_counts(days)
    sentences: list[str] = []
    for kind in PRICED_KINDS:
        if not counts[kind]:
            continue
        cheaper = request.services[kind].larger_costs_less(counts[kind], request.call_out.amount)
        if cheaper is not None:
            sentences.append(
                f"{cheaper.count} cost less than {cheaper.quoted}: {KIND_WORDS[kind]}, "
                f"{cheaper.cost} against {cheaper.quoted_cost}, each with a call-out of its own."
            )
    return sentences
