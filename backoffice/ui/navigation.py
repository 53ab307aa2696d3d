"""The places of the main navigation, by the rhythm of the work, with the power that each needs."""

from dataclasses import dataclass

from backoffice.access.models import User
from backoffice.access.powers import Power


@dataclass(frozen=True, slots=True)
class Place:
    name: str
    url_name: str
    section: str
    power: Power
    icon: str
    on_phone: bool = False


PLACES = (
    Place("Today", "backoffice:today", "today", Power.SEE_CARE, "today", on_phone=True),
    Place("Diary", "clients:diary", "diary", Power.SEE_CARE, "diary", on_phone=True),
    Place("Horses", "clients:animals", "horses", Power.SEE_CARE, "horse", on_phone=True),
    Place("People", "clients:people", "people", Power.SEE_CARE, "people"),
    Place("Quotes", "billing:quotes", "quotes", Power.SEE_MONEY, "quote"),
    Place("Money", "billing:money", "money", Power.SEE_MONEY, "money", on_phone=True),
    Place("Paperwork", "clients:paperwork", "paperwork", Power.SEE_CARE, "paper"),
    Place("Settings", "backoffice:settings", "settings", Power.CHANGE_SETTINGS, "settings"),
)


def places_for(user: User) -> list[Place]:
    return [place for place in PLACES if user.may(place.power)]
