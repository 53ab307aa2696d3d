"""What agreed hires have to be charged, day by day."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Prefetch, QuerySet

from billing.invoices.models import Charge
from billing.quotes.models import AgreedHire, AgreedHireHorse
from clients.visits.models import Visit


@dataclass(frozen=True, slots=True)
class HireDue:
    """A part of a hire that carries no charge yet: rent, delivery, collection, or the collection's call-out."""

    hire: AgreedHire
    kind: Charge.Kind


@dataclass(frozen=True, slots=True)
class HireDay:
    """Of one day: what is due, and the hires whose machine is collected, charged or not."""

    due: list[HireDue] = field(default_factory=list)
    collected: list[AgreedHire] = field(default_factory=list)


def hires_on(until: date, days: Collection[date]) -> dict[date, HireDay]:
    """What is due or collected on `days`, of which `until` is the last."""
    return {day: asked for day, asked in _by_day(_loaded(_begun(until)), until).items() if day in days}


def days_with_hires_due(until: date) -> set[date]:
    """The days on which a part of a hire is due, without reading whose."""
    return {day for day, asked in _by_day(_begun(until), until).items() if asked.due}


def _begun(until: date) -> QuerySet[AgreedHire]:
    return AgreedHire.objects.filter(start__lte=until)


def _by_day(begun: Iterable[AgreedHire], until: date) -> dict[date, HireDay]:
    hires = list(begun)
    if not hires:
        return {}
    done = set(Charge.objects.standing().filter(hire__in=hires).values_list("hire", "kind"))
    found: dict[date, HireDay] = {}
    for hire in hires:
        for kind, on in _parts(hire):
            if (hire.pk, kind) not in done and on <= until:
                found.setdefault(on, HireDay()).due.append(HireDue(hire, kind))
        if hire.collection is not None:
            found.setdefault(hire.last_day, HireDay()).collected.append(hire)
    return found


def _parts(hire: AgreedHire) -> list[tuple[Charge.Kind, date]]:
    parts = [(Charge.Kind.RENT, hire.rent, hire.start), (Charge.Kind.DELIVERY, hire.delivery, hire.start)]
    if hire.collection is not None:
        parts += [
            (Charge.Kind.COLLECTION, hire.collection, hire.last_day),
            (Charge.Kind.CALL_OUT, hire.call_out_at_most, hire.last_day),
        ]
    return [(kind, on) for kind, amount, on in parts if amount]


def hires_of(visits: Iterable[Visit]) -> dict[int, AgreedHire]:
    """Visit → the hire that it is a training or a follow-up of."""
    links = list(AgreedHire.visits.through.objects.filter(visit__in=list(visits)).values_list("visit", "agreedhire"))
    hires = {hire.pk: hire for hire in _loaded(AgreedHire.objects.filter(pk__in={hire for _, hire in links}))}
    return {visit: hires[hire] for visit, hire in links}


def _loaded(hires: QuerySet[AgreedHire]) -> QuerySet[AgreedHire]:
    horses = Prefetch("horses", AgreedHireHorse.objects.select_related("animal__barn"))
    return hires.select_related("quote", "option").prefetch_related(horses)
