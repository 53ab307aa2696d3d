"""The table of powers, written out a second time: a change of it is a decision, not an accident."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse

from backoffice.access.doors import demand, needs
from backoffice.access.powers import POWERS, Power, Role
from tests.factories.backoffice import UserFactory

O, P, A, B = Role.OWNER_MANAGER, Role.PRACTITIONER, Role.ASSISTANT, Role.BOOKKEEPER  # noqa: E741
WHO = {
    Power.SEE_CARE: {O, P, A, B},
    Power.SEE_HEALTH: {O, P, A},
    Power.CHANGE_CARE: {O, P, A},
    Power.OVERRIDE_ASK: {O, P},
    Power.SEE_MONEY: {O, P, B},
    Power.CHANGE_MONEY: {O, P, B},
    Power.SEE_MARGINS: {O},
    Power.CHANGE_SETTINGS: {O},
}


@pytest.mark.parametrize("power", Power)
def test_each_power_belongs_to_these_roles(power):
    assert {role for role in Role if power in POWERS[role]} == WHO[power]


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("power", Power)
def test_a_person_may_what_the_role_may(db, role, power):
    assert UserFactory(role=role).may(power) is (role in WHO[power])


def test_a_closed_account_may_nothing(db):
    person = UserFactory(role=Role.OWNER_MANAGER, is_active=False)
    assert not any(person.may(power) for power in Power)


def test_every_role_has_words():
    assert all(role.label for role in Role)


class Asking:
    def __init__(self, user) -> None:
        self.user = user


def test_the_door_opens_to_the_power_only(db):
    @needs(Power.SEE_MARGINS)
    def view(request):
        return HttpResponse("margins")

    assert view(Asking(UserFactory(role=O))).content == b"margins"
    for role in (P, A, B):
        with pytest.raises(PermissionDenied):
            view(Asking(UserFactory(role=role)))


def test_nobody_signed_in_is_refused():
    with pytest.raises(PermissionDenied):
        demand(Asking(None), Power.SEE_CARE)
