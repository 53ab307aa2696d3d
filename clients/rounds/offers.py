"""Days offered for a visit, with what each costs in driving said in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.access.models import User
from backoffice.business.models import Business
from backoffice.ui.words import day as day_words
from backoffice.ui.words import distance, hours
from clients.people.models import Barn
from clients.plans.queries import tolerance_of
from clients.rounds.detours import DayChoice, Drive, days_for
from clients.visits.models import Visit

DAYS_BEFORE, DAYS_OFFERED, AT_FIRST = 7, 21, 5


@dataclass(frozen=True, slots=True)
class Offer:
    """A day that can be chosen; `tolerated` says whether it lies in the tolerance of the plan, None without a plan."""

    choice: DayChoice
    extra: str
    tolerated: bool | None

    @property
    def day(self) -> date:
        return self.choice.day

    @property
    def rank(self) -> tuple[object, ...]:
        return (self.tolerated is False, *self.choice.rank)


@dataclass(frozen=True, slots=True)
class Offers:
    """The best few days, the other ones by date, and why the drive is not known, if it is not."""

    best: tuple[Offer, ...]
    others: tuple[Offer, ...]
    drive_unknown: str

    @classmethod
    def of(cls, found: Sequence[Offer], drive_unknown: str) -> "Offers":
        best = sorted(found, key=lambda offer: offer.rank)[:AT_FIRST]
        others = tuple(offer for offer in found if offer not in best)
        return cls(tuple(best), others, drive_unknown)


def days_to_move_to(visit: Visit, practitioner: User, business: Business, today: date) -> Offers:
    """Three weeks around the visit's day, or around the one that its cadence gave; its own day is not among them."""
    anchor = visit.planned_day or visit.day
    first = max(today, min(anchor, visit.day) - timedelta(days=DAYS_BEFORE))
    days = [day for day in _days_from(first) if day != visit.day or practitioner.pk != visit.practitioner_id]
    choices = days_for(business=business, practitioner=practitioner, barn=visit.barn, days=days, without=visit)
    tolerance = tolerance_of(visit.plan) if visit.plan else None
    found = [
        Offer(
            choice=choice,
            extra=say_extra(choice.extra, business),
            tolerated=None if tolerance is None else abs(choice.day - anchor) <= tolerance,
        )
        for choice in choices
    ]
    return Offers.of(found, why_drive_unknown(visit.barn, business))


def days_for_a_new_visit(barn: Barn, practitioner: User, business: Business, today: date) -> Offers:
    """The next three weeks."""
    choices = days_for(business=business, practitioner=practitioner, barn=barn, days=_days_from(today))
    found = [Offer(choice, say_extra(choice.extra, business), None) for choice in choices]
    return Offers.of(found, why_drive_unknown(barn, business))


def cost_of_moving(visit: Visit, day: date, practitioner: User, business: Business) -> str:
    """What the move adds on the new day, takes off the old one, and both together; empty where the drive is unknown."""
    old, new = visit.practitioner, practitioner
    leaving = days_for(business=business, practitioner=old, barn=visit.barn, days=[visit.day], without=visit)[0].extra
    coming = days_for(business=business, practitioner=new, barn=visit.barn, days=[day], without=visit)[0].extra
    if leaving is None or coming is None:
        return ""
    added = f"{_upper(say_extra(coming, business))} on {day_words(day)}"
    if not leaving.minutes:
        return f"{added}; nothing is saved on {day_words(visit.day)}."
    saved = f"{say_extra(Drive() - leaving, business)} on {day_words(visit.day)}"
    return f"{added}, {saved}: in all {say_extra(coming - leaving, business)}."


def say_extra(drive: Drive | None, business: Business) -> str:
    """A drive more or less in words: "12 min and 6 miles more"."""
    if drive is None:
        return ""
    if drive.minutes == 0:
        return "no more driving"
    way = distance(abs(drive.metres), business)
    return f"{hours(abs(drive.minutes))} and {way} {'more' if drive.seconds > 0 else 'less'}"


def why_drive_unknown(barn: Barn, business: Business) -> str:
    if business.base_lat is None or business.base_lon is None:
        return "The drive is not known: give the base its place under Settings, Business."
    return "" if barn.is_placed else f"The drive is not known: {barn} is not on the map yet."


def _days_from(first: date) -> list[date]:
    return [first + timedelta(days=number) for number in range(DAYS_OFFERED)]


def _upper(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
