"""The versions of a quote as they were offered, each against the one before it."""

import json
from dataclasses import dataclass
from datetime import date
from itertools import groupby, pairwise

from django.db.models import Q

from billing.quotes.comparison import compare
from billing.quotes.models import Quote
from billing.quotes.pricing_file import read_pricing_file
from billing.quotes.quote_file import file_of
from billing.quotes.reading import WrongFile
from billing.quotes.versions import Fact, Priced, side_by_side


@dataclass(frozen=True, slots=True)
class Step:
    """From one version to the next; `groups` hold what changed, `same` counts what did not."""

    before: Quote
    after: Quote
    groups: tuple[tuple[str, tuple[Fact, ...]], ...]
    same: tuple[Fact, ...]


def versions_of(quote: Quote, *, on: date) -> list[Step]:
    """The steps up to the newest version, newest first. A draft that cannot be priced yet is left out."""
    number = quote.replaces.number if quote.replaces else quote.number
    if number is None:
        return []
    chain = Quote.objects.filter(Q(number=number) | Q(replaces__number=number)).order_by("version")
    priced = [(each, found) for each in chain if (found := _priced(each, on)) is not None]
    steps = [_step(*before, *after) for before, after in pairwise(priced)]
    return steps[::-1]


def _priced(quote: Quote, on: date) -> Priced | None:
    file = quote.frozen if quote.frozen is not None else file_of(quote, on=on)
    try:
        return Priced(file, compare(read_pricing_file(json.dumps(file).encode())))
    except WrongFile:
        return None


def _step(before: Quote, was: Priced, after: Quote, now: Priced) -> Step:
    facts = side_by_side(was, now)
    changed = [fact for fact in facts if fact.is_changed]
    groups = tuple((group, tuple(each)) for group, each in groupby(changed, key=lambda fact: fact.group))
    return Step(before, after, groups, tuple(fact for fact in facts if not fact.is_changed))
