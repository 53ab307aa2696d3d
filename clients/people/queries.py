from datetime import date

from django.db.models import Count, Prefetch, Q, QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.people.models import Barn, BarnWindow, Person, VetPractice
from clients.people.names import folded
from clients.people.phone import same_phone


def people_on_file() -> QuerySet[Person]:
    """Everybody but those whose file was erased: whom a form offers, a list shows and a search finds."""
    return Person.objects.filter(erased_on__isnull=True)


def people_listed(day: date) -> QuerySet[Person]:
    """Everybody on file, with how many horses they own or share on that day."""
    held = Q(ownerships__since__lte=day) & (Q(ownerships__until__isnull=True) | Q(ownerships__until__gte=day))
    return people_on_file().annotate(horses=Count("ownerships", filter=held))


def barns_listed() -> QuerySet[Barn]:
    living = Count("animals", filter=Q(animals__died_on__isnull=True))
    return Barn.objects.select_related("contact").prefetch_related("windows").annotate(horses=living)


def practices_listed() -> QuerySet[VetPractice]:
    return VetPractice.objects.annotate(horses=Count("animals", filter=Q(animals__died_on__isnull=True)))


def possible_doubles(name: str, phone: str) -> list[Person]:
    """People already written down with the same name (case and accents apart) or the same number.

    Compared here and not by the database, since SQLite folds no letters beyond A–Z; one query of two short columns.
    """
    wanted = folded(name)
    alike = [
        pk
        for pk, known_name, known_phone in people_on_file().values_list("pk", "name", "phone")
        if (wanted and folded(known_name) == wanted) or (phone and same_phone(known_phone, phone))
    ]
    return list(Person.objects.filter(pk__in=alike[:20]).select_related("asked_barn"))


def barns_named(name: str) -> list[Barn]:
    wanted = folded(name)
    alike = [pk for pk, known in Barn.objects.values_list("pk", "name") if folded(known) == wanted]
    return list(Barn.objects.filter(pk__in=alike))


def barn_names() -> list[str]:
    return list(Barn.objects.values_list("name", flat=True))


def windows_of(barn: Barn) -> list[BarnWindow]:
    return list(barn.windows.all())


def get_person_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Person:
    """The door to a person. Pass Power.CHANGE_CARE where they are changed."""
    demand(request, power)
    return get_object_or_404(Person.objects.select_related("guardian", "asked_barn"), pk=pk)


def get_barn_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Barn:
    """The door to a barn."""
    demand(request, power)
    barns = Barn.objects.select_related("contact").prefetch_related(
        Prefetch("windows", queryset=BarnWindow.objects.order_by("weekday", "opens"))
    )
    return get_object_or_404(barns, pk=pk)


def get_practice_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> VetPractice:
    """The door to a vet practice."""
    demand(request, power)
    return get_object_or_404(VetPractice, pk=pk)
