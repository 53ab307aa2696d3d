"""What an option's row does not show by itself, in plain sentences."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from billing.money.call_out import Split
from billing.money.hire import break_even
from billing.quotes.charging import our_counts
from billing.quotes.laying import HorseDays, LaidOption
from billing.quotes.request import Option, PricingRequest
from billing.quotes.session_charges import PRICED, session_charges
from clients.plans.cadence import KIND_WORDS, Kind, say_date
from clients.plans.coverage import Coverage


@dataclass(frozen=True, slots=True)
class BreakEven:
    """From how many visits alone the hire for `horse` costs less; None where a visit costs nothing.

    With a machine for several `horses`, each visit is to all of them.
    """

    horse: str
    full: int | None
    spot: int | None
    horses: int = 1

    def __str__(self) -> str:
        parts = [f"{self.full} full-body" if self.full else "", f"{self.spot} spot" if self.spot else ""]
        to = f" to all {self.horses} horses" if self.horses > 1 else ""
        return f"Hire costs less from {' or '.join(part for part in parts if part)} visits alone{to}."


def break_evens(request: PricingRequest, laid: LaidOption) -> tuple[BreakEven, ...]:
    """For each machine, the smallest numbers of visits alone that cost more than its hire alone."""
    if request.hire is None:
        return ()
    found: list[BreakEven] = []
    sharing = Counter(days.machine for days in laid.horses)
    for days in laid.horses:
        if days.machine != days.horse.name:
            continue
        horses = sharing[days.machine]
        hire = request.hire.alone(request.days, our_counts(days)[Kind.FOLLOW_UP], request.call_out.amount)
        call_out = request.call_out.amount * (horses if request.call_out.split == Split.NONE else 1)
        counts = {kind: break_even(service.times(horses), call_out, hire) for kind, service in request.services.items()}
        found.append(BreakEven(days.horse.name, counts.get(Kind.FULL), counts.get(Kind.SPOT), horses))
    return tuple(found)


def notices_of(
    request: PricingRequest,
    laid: LaidOption,
    coverages: Sequence[Coverage | None],
    evens: Sequence[BreakEven],
) -> tuple[str, ...]:
    """Everything worth saying about an option, each sentence beginning with the horse's or the owner's name."""
    by_horse = {even.horse: even for even in evens if even.full or even.spot}
    sentences: list[str] = []
    for days, coverage in zip(laid.horses, coverages, strict=True):
        name = days.horse.name
        about = [*days.notices, *_uncounted(request, coverage), *_cheaper(request, laid.option, days)]
        if name in by_horse:
            about.append(str(by_horse[name]))
        if days.machine == name and request.hire is not None and request.hire.deposit:
            about.append(f"A deposit of {request.hire.deposit} is paid and given back; it is not in the total.")
        sentences += (f"{name}: {sentence}" for sentence in about)
    return (*sentences, *_package_notices(request, laid))


def _package_notices(request: PricingRequest, laid: LaidOption) -> list[str]:
    """How much of each package is used, since what is not has been paid too."""
    if not laid.option.packages:
        return []
    return [
        f"{use.owner}: {use.sessions_used} of {sum(use.package.sessions.values())} sessions of the package "
        f'"{use.package.name}" are used in these {request.days} days.'
        for use in session_charges(request, laid).packages
    ]


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


def _cheaper(request: PricingRequest, option: Option, days: HorseDays) -> list[str]:
    """Where more sessions at the list price cost less; not said where a plan month or a package pays for some."""
    if option.plans[days.horse.name].monthly is not None or option.packages.get(days.horse.owner):
        return []
    counts = our_counts(days)
    sentences: list[str] = []
    for kind in PRICED:
        if not counts[kind]:
            continue
        cheaper = request.services[kind].larger_costs_less(counts[kind], request.call_out.amount)
        if cheaper is not None:
            sentences.append(
                f"{cheaper.count} cost less than {cheaper.quoted}: {KIND_WORDS[kind]}, "
                f"{cheaper.cost} against {cheaper.quoted_cost}, each with a call-out of its own."
            )
    return sentences
