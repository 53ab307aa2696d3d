"""The lists that are ticked at a stop. Common practice, no published source; maker, vet and yard come first."""

from collections.abc import Collection
from datetime import date

from backoffice.access.models import User
from clients.people.models import Barn
from clients.visits.models import StopList

Kind = StopList.Kind

LISTS = {
    Kind.SET_UP: {
        "power": "GFCI (US) or 30 mA RCD (UK) tested today, surge protector in line",
        "lead": "Lead fully unrolled and undamaged, no adapters in a chain, nothing in standing water",
        "cable": "Cable clear of hooves and water",
        "machine": "Machine out of heat, cold and wet",
        "order": "Applicator on before power, power off before the applicator comes off; the maker’s manual decides",
        "away": "Keys, cards, phones and devices 18 in (46 cm) away while running",
        "people": "Nobody near with an implanted device, or pregnant, until the maker and a doctor advise",
    },
    Kind.CLEANING: {
        "boots": "Boots changed, or brushed clean and disinfected",
        "hands": "Hands and forearms washed",
        "clothes": "Outer clothes changed",
        "applicator": "Applicator and cables wiped, as the maker allows",
        "left": "Nothing carried on: ropes, brushes and cloths stay there",
    },
}


def lines_of(kind: Kind, done: Collection[str]) -> list[tuple[str, str, bool]]:
    """(key, words, whether it was done), in the order of the list."""
    return [(key, words, key in done) for key, words in LISTS[kind].items()]


def noted_lists(kind: Kind, day: date, practitioner: User) -> dict[int, StopList]:
    """Barn → what was ticked there that day."""
    found = StopList.objects.filter(kind=kind, day=day, practitioner=practitioner)
    return {each.barn_id: each for each in found}


def list_at(kind: Kind, day: date, practitioner: User, barn: Barn) -> StopList | None:
    return StopList.objects.filter(kind=kind, day=day, practitioner=practitioner, barn=barn).first()
