from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from clients.barnside.models import BarnEvent, HandMoney, Phone


def open_entries() -> QuerySet[BarnEvent]:
    """What was written in the barn and waits for a person, the oldest first."""
    rows = BarnEvent.objects.filter(state=BarnEvent.State.OPEN)
    return rows.select_related("phone", "person", "visit__animal", "visit__barn").order_by("received_at", "id")


def entries_of(visit_pk: int) -> QuerySet[BarnEvent]:
    return BarnEvent.objects.filter(visit=visit_pk).select_related("phone", "person", "settled_by")


def hand_money() -> QuerySet[HandMoney]:
    """Money taken in the barn, the oldest first: what the money side books."""
    return HandMoney.objects.select_related("person", "visit__animal", "visit__barn", "event__person")


def phones_of(person: User) -> QuerySet[Phone]:
    """One's own; everybody's for whoever keeps the settings."""
    rows = Phone.objects.select_related("person")
    return rows if person.may(Power.CHANGE_SETTINGS) else rows.filter(person=person)


def get_phone_or_404(request: HttpRequest, pk: int) -> Phone:
    user = request.user
    demand(request, Power.SEE_CARE)
    assert isinstance(user, User)  # noqa: S101  (narrows the type)
    return get_object_or_404(phones_of(user), pk=pk)


def get_entry_or_404(request: HttpRequest, pk: UUID) -> BarnEvent:
    demand(request, Power.SEE_HEALTH)
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(open_entries(), pk=pk)


def is_removed(key: UUID | None, person: User) -> bool:
    """Whether this person's phone of that key was removed."""
    return key is not None and Phone.objects.filter(key=key, person=person, removed_at__isnull=False).exists()
