from django.db import models
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.letters.models import Letter


def letters_for(user: User) -> QuerySet[Letter]:
    """Those that this person may read."""
    kinds = [kind for kind in Letter.Kind if user.may(Letter(kind=kind).power_to_read)]
    return Letter.objects.filter(kind__in=kinds).defer("text", "sealed")


def waiting_letters() -> QuerySet[Letter]:
    return Letter.objects.filter(state=Letter.State.WAITING).defer("text", "sealed")


def letters_about(*rows: models.Model) -> QuerySet[Letter]:
    """About any of these rows of one table."""
    tables, pks = {row._meta.label_lower for row in rows}, [row.pk for row in rows]
    return Letter.objects.filter(about__in=tables, about_pk__in=pks).defer("text", "sealed")


def letters_of(person: models.Model, address: str) -> QuerySet[Letter]:
    """Every letter to or from somebody: by who they are, and by where it went."""
    return Letter.objects.filter(Q(person_pk=person.pk) | Q(to=address or None))


def get_letter_or_404(request: HttpRequest, pk: int) -> Letter:
    """The door of a letter: open to those who may read its kind."""
    demand(request, Power.SEE_CARE)
    letter = get_object_or_404(Letter.objects.prefetch_related("papers"), pk=pk)
    demand(request, letter.power_to_read)
    return letter
