"""What the visits of one more plan would add to the driving of the next four weeks, beside what the diary holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.access.models import User
from backoffice.business.models import Business
from clients.people.models import Barn
from clients.rounds.fortnight import Due
from clients.rounds.marginal import MarginalCost, cost_of_one_more
from clients.rounds.vehicle_search import Effort
from clients.rounds.weeks import Weeks, weeks_of

DAYS = 28
TOLERANCE = 1  # days, as for a plan without a guideline: common practice, no published source


@dataclass(frozen=True, slots=True)
class Coming:
    """A day on which we would come to the barn; a spot leans on its full body and stays on its day."""

    on: date
    minutes: int
    is_fixed: bool


def cost_beside_the_diary(
    barn: Barn, coming: Sequence[Coming], *, person: User, business: Business, today: date, effort: Effort | None = None
) -> MarginalCost | None:
    """For all of `coming`, reckoned from those that fall in the next four weeks when it begins in the first of them.

    None where the barn or the base is not on the map, or nobody comes. Takes seconds: not for a page that waits.
    """
    if not (coming and barn.is_placed and business.base_lat is not None and business.base_lon is not None):
        return None
    first = today + timedelta(days=1)
    weeks = weeks_of(first, DAYS, [person], business, also=[barn])
    added = _added(coming, weeks, barn, person)
    cost = cost_of_one_more(weeks.request, added, weeks.travel.metres, first_weekday=first.weekday(), effort=effort)
    return cost.over(len(coming))


def _added(coming: Sequence[Coming], weeks: Weeks, barn: Barn, person: User) -> list[Due]:
    """The weekdays stay as they are: the plan is moved by whole weeks into the first of the weeks."""
    begins = min(each.on for each in coming)
    moved = (begins - weeks.first).days // 7 * 7
    dues = []
    for number, each in enumerate(sorted(coming, key=lambda each: each.on)):
        day = (each.on - weeks.first).days - moved
        around = range(day, day + 1) if each.is_fixed else range(day - TOLERANCE, day + TOLERANCE + 1)
        days = tuple(near for near in around if 0 <= near < DAYS)
        if day < DAYS:
            dues.append(
                Due(
                    key=f"new {number}",
                    horse="new",
                    place=weeks.at[barn.pk],
                    seconds=60 * each.minutes,
                    around=day,
                    days=days,
                    stands_on=day,
                    is_fixed=each.is_fixed,
                    persons=(str(person.pk),),
                )
            )
    return dues
