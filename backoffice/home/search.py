"""One search over all that has a name or a number: all words, in any order, case and accents apart.

Names are compared here and not by the database, since SQLite folds no letters beyond A–Z. Where nothing is spelled as
it was typed, what is close to it is looked for.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.db.models import Q, QuerySet
from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.documents.models import Document
from backoffice.home.spelling import Meant, meant
from backoffice.ui.words import day as day_words
from billing.invoices.models import Invoice
from billing.payments.models import Payment
from billing.quotes.models import Quote
from clients.animals.models import Animal
from clients.kit.models import Machine
from clients.people.models import Barn, Person, VetPractice
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
    """What was found of one kind: the first ten, and how many there are, where they were counted."""

    title: str
    hits: tuple[Hit, ...]
    count: int | None

    @property
    def is_cut(self) -> bool:
        return self.count is None or self.count > len(self.hits)


@dataclass(frozen=True, slots=True)
class Found:
    """The groups in which something was found; `close` are the words that were looked for instead of those typed."""

    groups: tuple[Group, ...] = ()
    close: tuple[str, ...] = ()


class Named(NamedTuple):
    """A row that has a name, and all of it that is searched, folded."""

    pk: int
    hay: str


@dataclass(frozen=True, slots=True)
class Names:
    """What is compared word by word: there are few enough of them to be read whole."""

    people: list[Named]
    payers: list[Named]  # the same by their names alone: a number is one of an invoice, not of a telephone
    animals: list[Named]
    barns: list[Named]
    practices: list[Named]
    machines: list[Named]

    def words(self) -> set[str]:
        every = (*self.people, *self.animals, *self.barns, *self.practices, *self.machines)
        return {word for row in every for word in row.hay.split() if word.isalpha()}


def search(text: str, user: User) -> Found:
    """What this person may see of it, in a fixed number of queries; nothing for a text without words."""
    typed = folded(text[:LONGEST]).split()
    if not typed:
        return Found()
    names = _names()
    asked: list[Meant] = [(word,) for word in typed]
    groups = _groups(names, asked, user)
    if groups:
        return Found(groups)
    close = meant(typed, names.words())
    if close == asked:
        return Found()
    groups = _groups(names, close, user)
    instead = tuple(word for words, was in zip(close, typed, strict=True) for word in words if word != was)
    return Found(groups, instead if groups else ())


def _groups(names: Names, asked: Sequence[Meant], user: User) -> tuple[Group, ...]:
    animals = Animal.objects.select_related("barn")
    groups = [
        _named("People", names.people, asked, Person.objects.all(), lambda each: each.phone or each.email),
        _named("Horses", names.animals, asked, animals, _under_animal),
        _named("Barns", names.barns, asked, Barn.objects.all(), lambda each: each.area or each.address),
        _named(
            "Vet practices", names.practices, asked, VetPractice.objects.all(), lambda each: each.vet_name or each.phone
        ),
        _named("Machines", names.machines, asked, Machine.objects.all(), lambda each: each.serial_number),
    ]
    if user.may(Power.SEE_MONEY):
        groups += [_quotes(asked), _invoices(names, asked), _payments(names, asked)]
    groups.append(_papers(asked, user))
    return tuple(group for group in groups if group.hits)


def _fits(asked: Iterable[Meant], hay: str) -> bool:
    return all(any(word in hay for word in words) for words in asked)


def _hay(*texts: object) -> str:
    return folded(" ".join(str(text) for text in texts if text))


def _digits(text: str) -> str:
    return "".join(sign for sign in text if sign.isdecimal())


def _names() -> Names:
    people = list(people_on_file().values_list("pk", "name", "phone", "email").order_by("name", "pk"))
    animals = Animal.objects.values_list("pk", "name", "passport_name", "microchip", "barn__name")
    barns = Barn.objects.values_list("pk", "name", "address", "area")
    practices = VetPractice.objects.values_list("pk", "name", "vet_name", "phone", "email")
    machines = Machine.objects.values_list("pk", "name", "serial_number")
    return Names(
        people=[Named(pk, _hay(name, phone, _digits(phone), email)) for pk, name, phone, email in people],
        payers=[Named(pk, folded(name)) for pk, name, _, _ in people],
        animals=[Named(pk, _hay(*texts)) for pk, *texts in animals.order_by("name", "pk")],
        barns=[Named(pk, _hay(*texts)) for pk, *texts in barns.order_by("name", "pk")],
        practices=[Named(pk, _hay(*texts)) for pk, *texts in practices.order_by("name", "pk")],
        machines=[Named(pk, _hay(*texts)) for pk, *texts in machines.order_by("name", "pk")],
    )


def _named(
    title: str, rows: Iterable[Named], asked: Sequence[Meant], found: QuerySet[Any], under: Callable[[Any], str]
) -> Group:
    pks = [row.pk for row in rows if _fits(asked, row.hay)]
    shown = found.filter(pk__in=pks[:MOST])
    return Group(title, tuple(Hit(str(each), each.get_absolute_url(), under(each)) for each in shown), len(pks))


def _under_animal(animal: Animal) -> str:
    return f"{animal.barn}, died {day_words(animal.died_on)}" if animal.died_on else animal.barn.name


def _quotes(asked: Sequence[Meant]) -> Group:
    rows: dict[int, list[object]] = {}
    columns = Quote.objects.values_list("pk", "number", "title", "person__name", "horses__animal__name")
    for pk, *texts in columns.order_by("-made_at", "-pk"):
        rows.setdefault(pk, ["quote"]).extend(texts)
    pks = [pk for pk, texts in rows.items() if _fits(asked, _hay(*texts))]
    found = Quote.objects.filter(pk__in=pks[:MOST]).select_related("person")
    hits = tuple(
        Hit(str(quote), quote.get_absolute_url(), f"{quote.person}, {quote.get_state_display().lower()}")
        for quote in found
    )
    return Group("Quotes", hits, len(pks))


def _invoices(names: Names, asked: Sequence[Meant]) -> Group:
    """By number, as printed or bare, or by payer; there are too many of them to compare here."""
    matching = Q()
    for words in asked:
        if "invoice" not in words:
            matching &= _paid_by(names, words) | _any(words, _invoice_number)
    hits = [
        Hit(str(invoice), invoice.get_absolute_url(), f"{invoice.payer}, {day_words(invoice.issued_on)}")
        for invoice in _first(Invoice.objects.filter(matching, issued_on__isnull=False)).select_related("payer")
    ]
    return _uncounted("Invoices", hits)


def _payments(names: Names, asked: Sequence[Meant]) -> Group:
    """By the number of the receipt, the reference or the payer."""
    matching = Q()
    for words in asked:
        if not {"payment", "receipt"} & set(words):
            matching &= _paid_by(names, words) | _any(words, _payment_number)
    hits = [
        Hit(f"Receipt {each.number}", each.get_absolute_url(), f"{each.payer}, {day_words(each.received_on)}")
        for each in _first(Payment.objects.filter(matching).order_by("-received_on", "-pk")).select_related("payer")
    ]
    return _uncounted("Payments", hits)


def _papers(asked: Sequence[Meant], user: User) -> Group:
    kinds = [kind for kind, power in Document.POWER_TO_READ.items() if user.may(power)]
    found: QuerySet[Document] = Document.objects.filter(kind__in=kinds, erased_at__isnull=True)
    for words in asked:
        found = found.filter(_any(words, lambda word: _holds("title", word)))
    hits = [
        Hit(each.title, reverse("backoffice:document", args=[each.pk]), day_words(each.made_at))
        for each in _first(found)
    ]
    return _uncounted("Papers", hits)


def _first(found: QuerySet[Any]) -> QuerySet[Any]:
    """As many as are shown and one more, by their order: their keys are put in order, not whole rows."""
    return found.filter(pk__in=list(found.values_list("pk", flat=True)[: MOST + 1]))


def _uncounted(title: str, hits: Sequence[Hit]) -> Group:
    """Of which there are too many to count them while somebody waits; one more than is shown was looked for."""
    return Group(title, tuple(hits[:MOST]), len(hits) if len(hits) <= MOST else None)


def _paid_by(names: Names, words: Meant) -> Q:
    return Q(payer__in=[payer.pk for payer in names.payers if _fits([words], payer.hay)])


def _any(words: Meant, one: Callable[[str], Q]) -> Q:
    found = one(words[0])
    for word in words[1:]:
        found |= one(word)
    return found


def _nothing() -> Q:
    return Q(pk__in=[])


def _holds(field: str, word: str) -> Q:
    return Q(**{f"{field}__icontains": word}) if word.isprintable() else _nothing()


def _holds_number(field: str, word: str) -> Q:
    """Words without a figure are not looked for in fields that hold numbers."""
    return _holds(field, word) if any(sign.isdecimal() for sign in word) else _nothing()


def _invoice_number(word: str) -> Q:
    """“12”, “0012” or “2026-0012”; or as it was called in the books of before."""
    year, dash, number = word.partition("-")
    if dash and year.isascii() and year.isdecimal() and len(year) == 4 and _is_number(number):
        found = Q(number=int(number), issued_on__year=int(year))
    else:
        found = Q(number=int(word)) if _is_number(word) else _nothing()
    return found | _holds_number("brought_as", word)


def _payment_number(word: str) -> Q:
    """Of a receipt; or in the reference, such as the number of a check."""
    found = Q(number=int(word)) if _is_number(word) else _nothing()
    return found | _holds_number("reference", word)


def _is_number(word: str) -> bool:
    return word.isascii() and word.isdecimal() and len(word) <= MOST_DIGITS
