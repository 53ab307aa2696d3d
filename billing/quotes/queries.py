from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Case, Count, F, QuerySet, Value, When
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from backoffice.business.queries import local_date
from billing.packages.models import Part
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from billing.prices.queries import hire_rate_on
from billing.quotes.chart import Chart, draw
from billing.quotes.comparison import Comparison, OptionMeasures, compare, guideline_sessions, measure
from billing.quotes.covering import say_coverage
from billing.quotes.models import Option, OptionSchedule, Quote
from billing.quotes.payment_steps import PaymentStep, steps_of
from billing.quotes.quote_file import laid_options, request_of
from billing.quotes.reading import WrongFile
from billing.quotes.request import PricingRequest
from billing.quotes.strip import LONGEST_STRIP, Strip, strips_of
from billing.quotes.suggestions import Suggestion, suggest
from clients.animals.models import Animal, Ownership
from clients.animals.queries import horses_owned_by, roles_of
from clients.people.models import Person
from clients.plans.cadence import Phase
from clients.plans.queries import phases_of

OPENING = 3
NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Row:
    """One option as screens and paper show it."""

    option: Option
    measures: OptionMeasures
    strips: tuple[Strip, ...]
    covering: str = ""

    @property
    def our_days(self) -> list[date]:
        """The days on which we come."""
        return sorted({session.on for horse in self.measures.horses for session in horse.days.ours})

    @property
    def first_day(self) -> date | None:
        return min(self.our_days, default=None)

    @property
    def payment_steps(self) -> tuple[PaymentStep, ...]:
        return steps_of(self.measures.payments)

    @property
    def due_now(self) -> Decimal:
        """What is paid when the option is accepted."""
        return sum((payment.amount for payment in self.measures.payments if payment.on is None), Decimal(0))

    @property
    def last_day(self) -> date | None:
        return max(self.our_days, default=None)


@dataclass(frozen=True, slots=True)
class Shown:
    """A quote's comparison, ready to be drawn; `faults` says what keeps a draft from being priced."""

    rows: tuple[Row, ...]
    chart: Chart | None
    comparison: Comparison | None
    faults: tuple[str, ...] = ()
    hidden: tuple[Row, ...] = ()

    @property
    def opening(self) -> tuple[Row, ...]:
        """The rows that a page opens with: the first few, or the first ones and those that are marked."""
        chosen = [row for row in self.rows[OPENING:] if row.option.is_chosen or row.option.is_preferred]
        return (*self.rows[: OPENING - len(chosen)], *chosen)

    @property
    def has_hire(self) -> bool:
        return any(row.measures.owner_minutes or row.measures.break_evens for row in self.rows)

    @property
    def shares_stops(self) -> bool:
        return any(row.measures.total_as_booked != row.measures.total for row in self.rows)

    @property
    def owners_share(self) -> bool:
        return any(len(row.measures.owners) > 1 for row in self.rows)

    @property
    def is_cut(self) -> bool:
        """Whether the strips end before the term does."""
        return self.comparison is not None and self.comparison.request.days > LONGEST_STRIP

    @property
    def behind(self) -> tuple[Row, ...]:
        """The rows that wait under "more"."""
        opening = self.opening
        return tuple(row for row in self.rows if row not in opening)


# Each begins with what an owner asks for first: the cheapest, the most covered, the fewest visits, the shortest gap.
SORTS: dict[str, Callable[[Row], Any]] = {
    "total": lambda row: row.measures.total,
    "covered": lambda row: -(row.measures.covered or NOTHING),
    "visits": lambda row: row.measures.visits,
    "gap": lambda row: row.measures.longest_gap,
}


SORT_LABELS = {"total": "Total", "covered": "Guideline covered", "visits": "Visits", "gap": "Longest gap"}


@dataclass(frozen=True, slots=True)
class SortLink:
    """A link that sorts the rows; `order` is ARIA's word for how they are sorted by it now, or empty."""

    key: str
    label: str
    query: str
    order: str


def quotes_listed(on: date) -> QuerySet[Any]:
    """Every quote with its `option_count` and its `standing`: the state, where an offer past its day is lapsed."""
    over = When(state=Quote.State.OFFERED, expires_on__lt=on, then=Value(Quote.State.LAPSED))
    return (
        Quote.objects.select_related("person")
        .prefetch_related("horses__animal")
        .annotate(option_count=Count("options"), standing=Case(over, default=F("state")))
    )


def get_quote_or_404(request: HttpRequest, pk: int) -> Quote:
    demand(request, Power.SEE_MONEY)
    return get_object_or_404(_whole_quotes(), pk=pk)


def get_option_or_404(request: HttpRequest, pk: int) -> Option:
    demand(request, Power.SEE_MONEY)
    return get_object_or_404(Option.objects.select_related("quote__guideline_version"), pk=pk)


def linked_quote(pk: int) -> Quote:
    """The quote behind a private link; the link's door has let its holder in."""
    return get_object_or_404(_whole_quotes().exclude(state=Quote.State.DRAFT), pk=pk)


def _whole_quotes() -> QuerySet[Quote]:
    return Quote.objects.select_related(
        "person__guardian",
        "guideline_version__guideline",
        "full_service",
        "spot_service",
        "price_list",
        "document",
        "made_by",
        "replaces",
    )


def horses_of(quote: Quote) -> list[Animal]:
    return [horse.animal for horse in quote.horses.select_related("animal__barn")]


def why_overtaken(quote: Quote, on: date) -> str:
    """A sentence when a horse of the quote has died or changed hands since it was offered; empty when it stands."""
    horses = horses_of(quote)
    dead = next((horse for horse in horses if horse.died_on is not None), None)
    if dead is not None:
        return f"{dead} has died."
    offered = local_date(quote.offered_at) if quote.offered_at else on
    then = set(Ownership.objects.on(offered).filter(animal__in=horses).values_list("animal", "person"))
    now = set(Ownership.objects.on(on).filter(animal__in=horses).values_list("animal", "person"))
    changed = {animal for animal, _ in now - then}
    return next((f"{horse} has changed hands since this was offered." for horse in horses if horse.pk in changed), "")


def horses_for(person: Person, on: date) -> list[Animal]:
    """The horses that a quote for this person may name: owned, or looked after as agent, payer or handler."""
    found = [*(share.animal for share in horses_owned_by(person, on)), *(role.animal for role in roles_of(person, on))]
    return sorted({horse.pk: horse for horse in found}.values(), key=lambda horse: (horse.name, horse.pk))


def comparison_of(quote: Quote, *, on: date, with_hidden: bool = False) -> Shown:
    """The comparison of a quote: as offered, or a draft at the prices of `on`. Hidden options are measured apart."""
    try:
        request = request_of(quote, on=on, with_hidden=with_hidden)
    except WrongFile as wrong:
        return Shown((), None, None, tuple(_in_plain_words(error) for error in wrong.errors))
    options = {option.name: option for option in quote.options.all()}
    apart = [each for each in request.options if with_hidden and options[each.name].is_hidden]
    comparison = compare(replace(request, options=tuple(each for each in request.options if each not in apart)))
    planned = guideline_sessions(request)
    return Shown(
        rows=tuple(_row(quote, options, request, measures) for measures in comparison.options),
        chart=draw(comparison.options, quote.budget),
        comparison=comparison,
        hidden=tuple(_row(quote, options, request, measure(request, each, planned)) for each in apart),
    )


def sort_links(sort: str) -> list[SortLink]:
    """The measures to sort by; the one that is in use turns round."""
    return [
        SortLink(
            key=key,
            label=label,
            query=f"?sort=-{key}" if sort == key else f"?sort={key}",
            order={key: "ascending", f"-{key}": "descending"}.get(sort, ""),
        )
        for key, label in SORT_LABELS.items()
    ]


def sorted_rows(shown: Shown, sort: str) -> Shown:
    """The rows by one of `SORTS` ("-total" turns it round), or as they are for anything else."""
    key = SORTS.get(sort.removeprefix("-"))
    return replace(shown, rows=tuple(sorted(shown.rows, key=key, reverse=sort.startswith("-")))) if key else shown


def guideline_phases(quote: Quote) -> tuple[Phase, ...]:
    """The phases of the quote's guideline; none if it holds spots and nobody gives spots here."""
    if quote.guideline_version is None:
        return ()
    phases = phases_of(quote.guideline_version.phases.all())
    return () if quote.spot_service is None and any(phase.spots_per_day for phase in phases) else phases


def one_tap_options(quote: Quote, *, on: date, hire: bool | None = None) -> list[Suggestion]:
    """What one tap may add: the suggestions whose schedule and whose name no option of the quote has yet.

    `hire` says whether there are hire prices, where that is known already.
    """
    if quote.state != Quote.State.DRAFT:
        return []
    options = laid_options(quote)
    names = {option.name.lower() for option in options}
    laid = [
        {(each.by == OptionSchedule.By.HIRE, phases_of(each.phases.all())) for each in option.schedules.all()}
        for option in options
    ]
    hires = hire_rate_on(on) is not None if hire is None else hire
    suggested = suggest(guideline_phases(quote), quote.days, hire=hires)
    once = [each for each in suggested if {(each.is_hire, each.phases)} not in laid]
    return [each for each in [*once, *_prepaid_options(quote, suggested, on)] if each.name.lower() not in names]


def _prepaid_options(quote: Quote, suggested: Sequence[Suggestion], on: date) -> list[Suggestion]:
    """The guideline's full bodies, or a weekly one, paid by a package or a monthly plan that is on sale."""
    base = next(each for each in suggested if each.key in ("full", "weekly"))
    packages = [each for each in packages_on_sale(on) if _holds_full(quote, each.parts.all())]
    plans = [each for each in monthly_plans_on_sale(on) if _holds_full(quote, each.parts.all())]
    base = replace(base, text=base.name)
    bought = [
        replace(base, key=f"package-{each.pk}", name=f"With package {each.name}", package=each.pk) for each in packages
    ]
    running = [
        replace(base, key=f"month-{each.pk}", name=f"Monthly plan {each.name}", monthly_plan=each.pk) for each in plans
    ]
    return bought + running


def _holds_full(quote: Quote, parts: Iterable[Part]) -> bool:
    return any(part.service_id == quote.full_service_id for part in parts)


def _row(quote: Quote, options: Mapping[str, Option], request: PricingRequest, measures: OptionMeasures) -> Row:
    strips = strips_of(measures, quote.start, quote.days)
    return Row(options[measures.name], measures, strips, say_coverage(request, measures.coverage))


PLAIN_WORDS = {
    "services.full": "There is no price for the full-body service on this price list yet.",
    "services.spot": "There is no price for the spot service on this price list yet.",
    "hire": "There are no hire prices yet.",
    "options": "There is no option yet.",
}


def _in_plain_words(error: str) -> str:
    place, _, rest = error.partition(": ")
    return PLAIN_WORDS.get(place, f"{place}: {rest}")
