"""Every finished visit of a time with what it brought and what time it took: what the reports on work are made of."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import groupby, pairwise

from django.db.models.functions import Coalesce

from backoffice.business.models import Business
from backoffice.business.queries import the_business
from billing.invoices.models import Charge, ChargeShare
from billing.money.worked_hour import Hours, shares
from billing.packages.queries import sessions_in
from billing.packages.sold import PackageSold, PlanMonth, Use
from billing.prices.queries import latest, tax_book
from billing.prices.rules import CostRates
from clients.people.models import Person
from clients.rounds.roads import base_of, place_of, roads_of
from clients.rounds.travel import METRES_IN_A_MILE, Place
from clients.visits.models import Visit
from clients.visits.queries import DONE

NOTHING = Fraction(0)
Parts = Mapping[Person | None, Fraction]


@dataclass(frozen=True, slots=True)
class Worked:
    """`parts` is what each payer's work brought, before tax; nobody is named for a package of more than one payer."""

    visit: Visit
    hours: Hours
    parts: Parts
    vehicle: Fraction

    @property
    def money(self) -> Fraction:
        return sum(self.parts.values(), NOTHING)


@dataclass(frozen=True, slots=True)
class Work:
    rows: tuple[Worked, ...]
    rates: CostRates | None
    unplaced: int  # visits whose drive is not known


def work_between(since: date, until: date) -> Work:
    """A constant number of queries but for one of the road engine's, where one is set, for each day."""
    business = the_business()
    found = list(_finished(since, until))
    money, drives = _money_of(since, until), _drives(found, business)
    rates = list(CostRates.objects.order_by("-since"))
    rows, unplaced = [], 0
    for stop in _stops(found):
        drive, metres = drives.get(stop[0].pk, (None, NOTHING))
        unplaced += len(stop) if drive is None else 0
        hands_on = [sum(session.minutes for session in visit.sessions.all()) for visit in stop]
        for visit, minutes, share in zip(stop, hands_on, shares(hands_on), strict=True):
            rate = latest(rates, visit.day)
            hours = Hours(
                hands_on=Fraction(minutes),
                set_up=Fraction(business.setup_minutes, len(stop)),
                driving=(drive or NOTHING) * share,
                admin=Fraction(rate.admin_minutes_per_visit if rate else 0),
                metres=metres * share,
            )
            miles = hours.metres / Fraction(str(METRES_IN_A_MILE))
            vehicle = miles * Fraction(rate.vehicle_per_mile) if rate else NOTHING
            rows.append(Worked(visit, hours, money.get(visit.pk, {}), vehicle))
    return Work(tuple(rows), latest(rates, until), unplaced)


def _finished(since: date, until: date) -> Iterator[Visit]:
    rows = Visit.objects.filter(status__in=DONE, day__range=(since, until))
    rows = rows.select_related("barn", "animal", "service", "practitioner").prefetch_related("sessions__service")
    yield from rows.order_by("day", "practitioner", "part", "starts", "pk")


def _day(visit: Visit) -> tuple[date, int]:
    return visit.day, visit.practitioner_id


def _stop(visit: Visit) -> tuple[date, int, int, int]:
    return visit.day, visit.practitioner_id, visit.part, visit.barn_id


def _stops(visits: Sequence[Visit]) -> Iterator[list[Visit]]:
    by_stop: dict[tuple[date, int, int, int], list[Visit]] = defaultdict(list)
    for visit in visits:
        by_stop[_stop(visit)].append(visit)
    yield from by_stop.values()


def _drives(visits: Sequence[Visit], business: Business) -> dict[int, tuple[Fraction, Fraction]]:
    """First visit of each stop → minutes and metres of the day's driving that fall on the stop; where known."""
    bases: dict[int, Place | None] = {}
    roads, found = roads_of(business), {}
    for (_, driver), group in groupby(visits, key=_day):
        day = list(group)
        if driver not in bases:
            bases[driver] = base_of(business, day[0].practitioner)
        base, stops = bases[driver], [stop for stop in _stops(day) if stop[0].barn.is_placed]
        if base is None or not stops:
            continue
        way = [base, *(place_of(stop[0].barn) for stop in stops)]
        table = roads.table(way)
        legs = list(pairwise([*range(len(way)), 0]))
        seconds = sum(table.seconds[here][there] for here, there in legs)
        metres = sum(table.metres[here][there] for here, there in legs)
        alone = [table.seconds[0][place] + table.seconds[place][0] for place in range(1, len(way))]
        for stop, share in zip(stops, shares(alone), strict=True):
            found[stop[0].pk] = (Fraction(seconds, 60) * share, Fraction(metres) * share)
    return found


def _money_of(since: date, until: date) -> dict[int, dict[Person | None, Fraction]]:
    """Visit → what its confirmed charges ask of each payer before tax, and what its prepaid sessions earned."""
    book = tax_book()
    found: dict[int, dict[Person | None, Fraction]] = defaultdict(lambda: defaultdict(Fraction))
    charged = ChargeShare.objects.filter(charge__state=Charge.State.CONFIRMED, charge__work_day__range=(since, until))
    charged = charged.annotate(of_visit=Coalesce("charge__visit_id", "charge__session__visit_id"))
    for share in charged.filter(of_visit__isnull=False).select_related("charge", "payer"):
        rate = book.tax_rate_of(share.charge.tax_category, share.payer_id, share.charge.work_day)
        net = Fraction(share.amount)
        if rate is not None and rate.is_included:
            net /= 1 + Fraction(rate.percent) / 100
        found[share.of_visit][share.payer] += net
    for visit_pk, payer, part in _prepaid(since, until):
        found[visit_pk][payer] += part
    return found


def _prepaid(since: date, until: date) -> Iterator[tuple[int, Person | None, Fraction]]:
    """What each session of a package or a plan month is worth: an equal part of what was paid for all, before tax."""
    uses = Use.objects.filter(undone_at__isnull=True, session__visit__day__range=(since, until))
    rows = uses.select_related("session", "sold__payer", "month__run").prefetch_related(
        "sold__parts", "month__run__parts", "month__charge__shares__payer"
    )
    worth: dict[PackageSold | PlanMonth, Fraction] = {}
    for use in rows:
        prepaid: PackageSold | PlanMonth = use.sold or use.month  # type: ignore[assignment]
        if prepaid not in worth:
            count = sessions_in(prepaid)
            worth[prepaid] = Fraction(prepaid.net) / count if count else NOTHING
        yield use.session.visit_id, _payer_of(prepaid), worth[prepaid]


def _payer_of(prepaid: PackageSold | PlanMonth) -> Person | None:
    if isinstance(prepaid, PackageSold):
        return prepaid.payer
    charge = getattr(prepaid, "charge", None)
    payers = {share.payer for share in charge.shares.all()} if charge else set()
    return payers.pop() if len(payers) == 1 else None
