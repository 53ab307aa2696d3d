"""What may be brought in, what it is asked for, and how a row becomes a record: by the same forms as one by one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django import forms
from django.db import models
from django.urls import reverse

from backoffice.access.models import User
from backoffice.business.queries import the_business
from backoffice.ui.forms import Prepared
from billing.starting.actions import bring_invoice
from billing.starting.forms import InvoiceForm
from clients.animals.actions import add_animal
from clients.animals.forms import NewAnimalForm
from clients.animals.models import Animal
from clients.people.actions import write_down
from clients.people.forms import BarnForm, PersonForm
from clients.people.models import Barn, Person
from clients.people.names import folded
from clients.plans.models import Service
from clients.visits.actions import note_earlier_work
from clients.visits.earlier_forms import EarlierWorkForm
from clients.visits.models import EarlierWork

Row = Mapping[str, str]


class BadRow(ValueError):
    """What is wrong with a row, sentence by sentence."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__(" ".join(sentences))
        self.sentences = tuple(sentences)


@dataclass(frozen=True, slots=True)
class Column:
    """Something that a list may say; `names` are headings by which it is known."""

    key: str
    label: str
    names: tuple[str, ...] = ()
    is_needed: bool = False


@dataclass(frozen=True, slots=True)
class Moment:
    """Who brings a list in, when, and what earlier lists called whom."""

    today: date
    at: datetime
    by: User
    known: Mapping[str, Mapping[str, int]]  # kind → number in a list, or folded name → key

    def find(self, kind: str, said: str, word: str) -> int:
        found = self.known[kind].get(folded(said))
        if found is None:
            raise BadRow([f"{word} “{said}” is not here yet, or there are two." if said else f"{word} is missing."])
        return found


@dataclass(frozen=True, slots=True)
class Kind:
    title: str
    model: type[models.Model]
    columns: tuple[Column, ...]
    make: Callable[[Row, Moment], models.Model]
    list_name: str
    can_be_undone: bool = True

    @property
    def list_url(self) -> str:
        return reverse(self.list_name)


def _filled(form_class: type[Prepared], row: Row, **options: Any) -> dict[str, Any]:
    """What the form begins with, under what the row says; a choice may be said by its label."""
    fields = form_class(**options).fields
    data = {name: field.initial for name, field in fields.items() if field.initial is not None}
    for name, said in row.items():
        if said and name in fields:
            data[name] = _choice(fields[name], said)
    return data


def _choice(field: forms.Field, said: str) -> str:
    if not isinstance(field, forms.ChoiceField) or isinstance(field, forms.ModelChoiceField):
        return said
    wanted = folded(said)
    choices: Any = field.choices
    told = [(str(value), folded(str(label))) for value, label in choices]
    return next((value for value, label in told if wanted in {folded(value), label}), said)


def _checked(form: Any) -> Any:
    if not form.is_valid():
        raise BadRow([line.text for line in form.error_lines()])
    return form


def _barn(row: Row, moment: Moment) -> models.Model:
    place = ", ".join(part for part in (row.get("lat", ""), row.get("lon", "")) if part)
    data = _filled(BarnForm, row) | ({"place": place} if place else {})
    return write_down(form=_checked(BarnForm(data)), at=moment.at, by=moment.by)


def _person(row: Row, moment: Moment) -> models.Model:
    data = _filled(PersonForm, row, today=moment.today)
    return write_down(form=_checked(PersonForm(data, today=moment.today)), at=moment.at, by=moment.by)


def _horse(row: Row, moment: Moment) -> models.Model:
    linked = {
        "barn": moment.find("barns", row.get("barn", ""), "The barn"),
        "owner": moment.find("people", row.get("owner", ""), "The owner"),
        "since": row.get("since") or moment.today.isoformat(),
    }
    form = _checked(NewAnimalForm(_filled(NewAnimalForm, row, today=moment.today) | linked, today=moment.today))
    owner, since = form.cleaned_data["owner"], form.cleaned_data["since"]
    return add_animal(animal=form.save(commit=False), owner=owner, since=since, at=moment.at, by=moment.by)


def _invoice(row: Row, moment: Moment) -> models.Model:
    currency, linked = the_business().currency, {"person": moment.find("people", row.get("person", ""), "The payer")}
    form = _checked(InvoiceForm(_filled(InvoiceForm, row, currency=currency) | linked, currency=currency))
    said = dict(form.cleaned_data)
    return bring_invoice(payer=said.pop("person"), **said, at=moment.at, by=moment.by)


def _earlier(row: Row, moment: Moment) -> models.Model:
    animal = Animal.objects.get(pk=moment.find("horses", row.get("horse", ""), "The horse"))
    told, wanted = {**row}, folded(row.get("service", ""))
    for service in Service.objects.all():
        if wanted in (folded(service.name), folded(service.get_kind_display())):
            told["service"] = str(service.pk)
            break
    else:
        raise BadRow([f"The work “{row.get('service', '')}” is none of your services."])
    form = _checked(EarlierWorkForm(told, today=moment.today))
    return note_earlier_work(animal=animal, **form.cleaned_data, at=moment.at, by=moment.by)


OWN = Column("own", "Its number in your list", ("id", "no", "nr", "number"))
NOTE = Column("note", "Note", ("note", "notes", "remark", "remarks", "flag", "comment"))
KINDS: dict[str, Kind] = {
    "barns": Kind(
        "Barns",
        Barn,
        (
            OWN,
            Column("name", "Name", ("name", "barn", "yard", "stable", "name invented"), is_needed=True),
            Column("kind", "Kind", ("kind", "type")),
            Column("address", "Address", ("address",)),
            Column("lat", "Latitude", ("lat", "latitude")),
            Column("lon", "Longitude", ("lon", "lng", "long", "longitude")),
            Column("phone", "Phone", ("phone", "mobile", "cell", "telephone")),
            Column("power", "Power", ("power", "electricity")),
            Column("signal", "Phone signal", ("signal", "phone signal")),
            Column("area", "Area", ("area", "area day", "region")),
            NOTE,
        ),
        _barn,
        "clients:barns",
    ),
    "people": Kind(
        "People",
        Person,
        (
            OWN,
            Column("name", "Name", ("name", "owner", "client", "customer", "name invented"), is_needed=True),
            Column("phone", "Phone", ("phone", "mobile", "cell", "telephone")),
            Column("email", "Mail", ("email", "e-mail", "mail")),
            Column("address", "Address", ("address",)),
            NOTE,
        ),
        _person,
        "clients:people",
    ),
    "horses": Kind(
        "Horses",
        Animal,
        (
            OWN,
            Column("name", "Name", ("name", "horse", "animal", "name invented"), is_needed=True),
            Column("barn", "Barn, by name or its number in your list", ("barn", "yard", "stable"), is_needed=True),
            Column("owner", "Owner, by name or their number in your list", ("owner", "client"), is_needed=True),
            Column("since", "Owner since", ("since", "owner since")),
            Column("sex", "Sex", ("sex", "gender")),
            Column("birth_year", "Year of birth", ("birth year", "born", "year of birth", "yob")),
            Column("breed", "Breed", ("breed",)),
            Column("color", "Color", ("color", "colour")),
            Column("microchip", "Microchip", ("microchip", "chip")),
            NOTE,
        ),
        _horse,
        "clients:animals",
    ),
    "visits": Kind(
        "Visits of before",
        EarlierWork,
        (
            Column("day", "Day", ("day", "date", "visit date", "session date"), is_needed=True),
            Column("horse", "Horse, by name or its number in your list", ("horse", "animal"), is_needed=True),
            Column("service", "What was done", ("service", "work", "what", "kind", "session"), is_needed=True),
            Column("minutes", "Minutes", ("minutes", "min", "duration")),
            NOTE,
        ),
        _earlier,
        "clients:animals",
    ),
    "invoices": Kind(
        "Unpaid invoices",
        Person,
        (
            Column("name", "Its old number", ("number", "invoice", "invoice number", "no"), is_needed=True),
            Column(
                "person", "Payer, by name or their number in your list", ("payer", "owner", "client"), is_needed=True
            ),
            Column("issued_on", "Its date", ("date", "issued", "invoice date"), is_needed=True),
            Column("due_on", "Pay by", ("due", "due date", "pay by"), is_needed=True),
            Column("open_amount", "Still open", ("open", "amount", "balance", "still open"), is_needed=True),
        ),
        _invoice,
        "billing:invoices",
        can_be_undone=False,
    ),
}
