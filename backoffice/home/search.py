"""One search over people, horses, barns, quotes and invoices: all words, in any order, case and accents apart.

Names are compared here and not by the database, since SQLite folds no letters beyond A–Z.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from backoffice.ui.words import day as day_words
from billing.invoices.models import Invoice
from billing.quotes.models import Quote
from clients.animals.models import Animal
from clients.people.models import Barn, Person
from clients.people.names import folded
from clients.people.queries import people_on_file

MOST = 10
LONGEST = 100
MOST_DIGITS = 9


@dataclass(frozen=True, slots=True)
class Hit:
    name: str
    href: str
    under: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """What was found of one kind: the first ten, and how many there are."""

    title: str
    hits: tuple[Hit, ...]
    count: int

    @property
    def is_cut(self) -> bool:
        return self.count > len(self.hits)


def search(text: str, *, with_money: bool) -> list[Group]:
    """The groups in which something was found, in a fixed number of queries; nothing for a text without words."""
    words = folded(text[:LONGEST]).split()
    if not words:
        return []
    people = _people()
    groups = [_found_people(people, words), _animals(words), _barns(words)]
    if with_money:
        groups += [_quotes(words), _invoices(people, words)]
    return [group for group in groups if group.hits]


def _has_all(words: Sequence[str], *texts: object) -> bool:
    hay = folded(" ".join(str(text) for text in texts if text))
    return all(word in hay for word in words)


def _digits(text: str) -> str:
    return "".join(sign for sign in text if sign.isdecimal())


def _people() -> list[tuple[int, str, str]]:
    """(key, name, everything that is searched) of everybody."""
    rows = people_on_file().values_list("pk", "name", "phone", "email").order_by("name", "pk")
    return [(pk, name, folded(f"{name} {phone} {_digits(phone)} {email}")) for pk, name, phone, email in rows]


def _found_people(people: Iterable[tuple[int, str, str]], words: Sequence[str]) -> Group:
    pks = [pk for pk, _, hay in people if all(word in hay for word in words)]
    found = Person.objects.filter(pk__in=pks[:MOST])
    hits = tuple(Hit(person.name, person.get_absolute_url(), person.phone or person.email) for person in found)
    return Group("People", hits, len(pks))


def _animals(words: Sequence[str]) -> Group:
    columns = Animal.objects.values_list("pk", "name", "passport_name", "microchip", "barn__name")
    pks = [pk for pk, *texts in columns.order_by("name", "pk") if _has_all(words, *texts)]
    found = Animal.objects.filter(pk__in=pks[:MOST]).select_related("barn")
    hits = tuple(Hit(animal.name, animal.get_absolute_url(), _under_animal(animal)) for animal in found)
    return Group("Horses", hits, len(pks))


def _under_animal(animal: Animal) -> str:
    return f"{animal.barn}, died {day_words(animal.died_on)}" if animal.died_on else animal.barn.name


def _barns(words: Sequence[str]) -> Group:
    columns = Barn.objects.values_list("pk", "name", "address", "area").order_by("name", "pk")
    pks = [pk for pk, *texts in columns if _has_all(words, *texts)]
    found = Barn.objects.filter(pk__in=pks[:MOST])
    hits = tuple(Hit(barn.name, barn.get_absolute_url(), barn.area or barn.address) for barn in found)
    return Group("Barns", hits, len(pks))


def _quotes(words: Sequence[str]) -> Group:
    rows: dict[int, list[object]] = {}
    columns = Quote.objects.values_list("pk", "number", "title", "person__name", "horses__animal__name")
    for pk, *texts in columns.order_by("-made_at", "-pk"):
        rows.setdefault(pk, ["quote"]).extend(texts)
    pks = [pk for pk, texts in rows.items() if _has_all(words, *texts)]
    found = Quote.objects.filter(pk__in=pks[:MOST]).select_related("person")
    hits = tuple(
        Hit(str(quote), quote.get_absolute_url(), f"{quote.person}, {quote.get_state_display().lower()}")
        for quote in found
    )
    return Group("Quotes", hits, len(pks))


def _invoices(people: Iterable[tuple[int, str, str]], words: Sequence[str]) -> Group:
    """By number, as printed or bare, or by payer; there are too many of them to compare here."""
    known = list(people)
    matching = Q()
    for word in words:
        if word != "invoice":
            payers = [pk for pk, name, _ in known if word in folded(name)]
            of_before = Q(brought_as__icontains=word) if word.isprintable() else Q(pk__in=[])
            matching &= Q(payer__in=payers) | _number(word) | of_before
    found: QuerySet[Any] = Invoice.objects.filter(matching, issued_on__isnull=False).select_related("payer")
    hits = tuple(
        Hit(str(invoice), invoice.get_absolute_url(), f"{invoice.payer}, {day_words(invoice.issued_on)}")
        for invoice in found[:MOST]
    )
    return Group("Invoices", hits, found.count())


def _number(word: str) -> Q:
    """“12”, “0012” or “2026-0012”."""
    year, dash, number = word.partition("-")
    number = number if dash else year
    if not (number.isascii() and number.isdecimal() and len(number) <= MOST_DIGITS):
        return Q(pk__in=[])
    if dash and year.isascii() and year.isdecimal() and len(year) == 4:
        return Q(number=int(number), issued_on__year=int(year))
    return Q(number=int(number)) if not dash else Q(pk__in=[])
