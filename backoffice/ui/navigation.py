"""The places of the main navigation, by the rhythm of the work, with the power that each needs."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse

from backoffice.access.models import User
from backoffice.access.powers import Power

BAR_PLACES = 4


@dataclass(frozen=True, slots=True)
class Place:
    name: str
    url_name: str
    power: Power
    icon: str
    prefixes: tuple[str, ...]
    on_phone: bool = False
    is_aside: bool = False


@dataclass(frozen=True, slots=True)
class Signpost:
    """A place as one page shows it: where it is, and whether we are there."""

    place: Place
    href: str
    current: bool
    in_bar: bool


PEOPLE_PREFIXES = ("/people/", "/barns/", "/vet-practices/", "/enquiry/", "/letters/")

PLACES = (
    Place("Today", "backoffice:today", Power.SEE_CARE, "today", ("/today/",), on_phone=True),
    Place("Diary", "clients:diary", Power.SEE_CARE, "diary", ("/diary/", "/visits/", "/rounds/"), on_phone=True),
    Place("Horses", "clients:animals", Power.SEE_CARE, "horse", ("/horses/", "/plans/"), on_phone=True),
    Place("People", "clients:people", Power.SEE_CARE, "people", PEOPLE_PREFIXES),
    Place("Quotes", "billing:quotes", Power.SEE_MONEY, "quote", ("/quotes/",)),
    Place("Money", "billing:money", Power.SEE_MONEY, "money", ("/money/",), on_phone=True),
    Place("Paperwork", "clients:paperwork", Power.SEE_CARE, "paper", ("/paperwork/", "/documents/")),
    Place("Reports", "billing:reports", Power.SEE_CARE, "report", ("/reports/",), is_aside=True),
    Place(
        "Settings",
        "backoffice:settings",
        Power.CHANGE_SETTINGS,
        "settings",
        ("/settings/", "/machines/"),
        is_aside=True,
    ),
)


@dataclass(frozen=True, slots=True)
class WayOn:
    """From the page of something to what the other side holds about it; `asks` stands for a key in the query."""

    name: str
    url_name: str
    power: Power
    asks: str = ""


WAYS_ON = {
    "person": (
        WayOn("Account", "billing:payer", Power.SEE_MONEY),
        WayOn("New quote", "billing:quote-new", Power.CHANGE_MONEY, asks="person"),
    ),
}


def ways_on(user: User, kind: str, pk: int) -> list[tuple[str, str]]:
    """Name and address of each that this person may go and that is installed."""
    mine = [way for way in WAYS_ON[kind] if user.may(way.power)]
    found = [(way.name, _address(way.url_name, way.asks, pk)) for way in mine]
    return [(name, href) for name, href in found if href]


def places_for(user: User) -> list[Place]:
    return [place for place in PLACES if user.may(place.power)]


def signposts(user: User, path: str) -> list[Signpost]:
    """The places this person may go to, seen from the page at `path`; the phone's bar holds the first four of them."""
    found = [(place, _address(place.url_name)) for place in places_for(user)]
    reachable = [(place, href) for place, href in found if href]
    bar = sorted((place for place, _ in reachable), key=lambda place: not place.on_phone)[:BAR_PLACES]
    return [
        Signpost(place=place, href=href, current=_is_current(place, href, path), in_bar=place in bar)
        for place, href in reachable
    ]


def _address(url_name: str, asks: str = "", pk: int | None = None) -> str:
    try:
        if asks:
            return f"{reverse(url_name)}?{asks}={pk}"
        return reverse(url_name, args=[] if pk is None else [pk])
    except NoReverseMatch:  # the money side may not be installed
        return ""


def _is_current(place: Place, href: str, path: str) -> bool:
    return path == href or path.startswith(place.prefixes)
