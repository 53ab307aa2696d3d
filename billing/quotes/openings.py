"""When the owner looked at a quote: every private link to it counts, those that were replaced too."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max, Min, Sum

from backoffice.links.models import PrivateLink
from backoffice.ui import words
from billing.quotes.models import Quote


@dataclass(frozen=True, slots=True)
class Opening:
    """Sittings of the holder of the link; looks of the business itself are not among them."""

    first: datetime | None = None
    last: datetime | None = None
    times: int = 0

    def words(self, on: date) -> str:
        """Such as "opened 3 times, last Thu 12 Mar at 8:30"."""
        if self.last is None:
            return "not opened yet"
        times = {1: "once", 2: "twice"}.get(self.times, f"{self.times} times")
        last = "" if self.times == 1 else "last "
        return f"opened {times}, {last}{words.day(self.last, on)} at {words.clock(self.last)}"


def openings_of(quotes: Iterable[Quote]) -> dict[int, Opening]:
    """For each quote, in one query."""
    pks = [quote.pk for quote in quotes]
    links = PrivateLink.objects.filter(purpose=PrivateLink.Purpose.QUOTE, target_pk__in=pks)
    seen = links.values("target_pk").annotate(
        first=Min("first_opened_at"), last=Max("last_opened_at"), times=Sum("times_opened")
    )
    found = {row["target_pk"]: Opening(row["first"], row["last"], row["times"]) for row in seen.order_by()}
    return {pk: found.get(pk, Opening()) for pk in pks}
