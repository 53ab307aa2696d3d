from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase as HypothesisTestCase

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.animals.actions import set_owners, set_roles
from clients.animals.models import Ownership, Role
from clients.animals.queries import owners_on, payers_for, payers_on, roles_on
from tests.conftest import NOW
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, OwnershipFactory, PersonFactory, RoleFactory

DAY = date(2026, 3, 2)
HALF = Fraction(1, 2)


@pytest.fixture
def merrow(business):
    return AnimalFactory(name="Merrow")


@pytest.fixture
def people(business):
    return [PersonFactory(name=name) for name in ("Ada Merrow", "Bea Merrow", "Cy Merrow")]


def shares_of(animal, day):
    return [(row.person.name, row.share) for row in owners_on([animal], day)[animal.pk]]


def test_three_shares_are_kept_exactly_and_in_their_order(merrow, people, owner_manager):
    shares = list(zip(people, (HALF, Fraction(3, 10), Fraction(1, 5)), strict=True))
    set_owners(animal=merrow, shares=shares, since=DAY, at=NOW, by=owner_manager)
    assert shares_of(merrow, DAY) == [
        ("Ada Merrow", HALF),
        ("Bea Merrow", Fraction(3, 10)),
        ("Cy Merrow", Fraction(1, 5)),
    ]
    entry = trail_of(merrow).get()
    assert entry.action == "owners set"
    assert entry.changes == {
        "since": "2026-03-02",
        "shares": [[people[0].pk, "1/2"], [people[1].pk, "3/10"], [people[2].pk, "1/5"]],
    }


def test_new_owners_end_the_earlier_set_the_day_before(merrow, people, owner_manager):
    set_owners(animal=merrow, shares=[(people[0], Fraction(1))], since=date(2025, 1, 1), at=NOW, by=owner_manager)
    set_owners(animal=merrow, shares=[(people[1], Fraction(1))], since=DAY, at=NOW, by=owner_manager)
    assert shares_of(merrow, DAY - timedelta(days=1)) == [("Ada Merrow", Fraction(1))]
    assert shares_of(merrow, DAY) == [("Bea Merrow", Fraction(1))]
    assert Ownership.objects.get(person=people[0]).until == date(2026, 3, 1)


def test_owners_set_twice_for_one_day_are_replaced(merrow, people, owner_manager):
    for person in people[:2]:
        set_owners(animal=merrow, shares=[(person, Fraction(1))], since=DAY, at=NOW, by=owner_manager)
    assert shares_of(merrow, DAY) == [("Bea Merrow", Fraction(1))]
    assert trail_of(merrow).count() == 2


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        ([], "at least one owner"),
        ([Fraction(13, 10)], "130 %: 30 % too much"),
        ([HALF, Fraction(2, 5)], "90 %: 10 % is missing"),
        ([Fraction(1), Fraction(0)], "more than nothing"),
        ([Fraction(1, 10_007), Fraction(10_006, 10_007)], "finer than one ten-thousandth"),
    ],
)
def test_shares_that_make_no_whole_horse_are_refused(merrow, people, owner_manager, parts, sentence):
    with pytest.raises(Refused, match=sentence):
        set_owners(animal=merrow, shares=list(zip(people, parts, strict=False)), since=DAY, at=NOW, by=owner_manager)
    assert not Ownership.objects.exists()


def test_one_person_named_twice_is_refused(merrow, people, owner_manager):
    with pytest.raises(Refused, match="named twice"):
        set_owners(animal=merrow, shares=[(people[0], HALF), (people[0], HALF)], since=DAY, at=NOW, by=owner_manager)


def test_owners_from_before_the_latest_change_are_refused(merrow, people, owner_manager):
    OwnershipFactory(animal=merrow, person=people[0], since=DAY)
    with pytest.raises(Refused, match="later day, Mon 2 Mar 2026"):
        set_owners(animal=merrow, shares=[(people[1], Fraction(1))], since=date(2026, 3, 1), at=NOW, by=owner_manager)


class AnyShares(HypothesisTestCase):
    @settings(max_examples=25, deadline=None)
    @given(st.lists(st.fractions(min_value=0, max_value=1, max_denominator=40), min_size=1, max_size=4))
    def test_shares_sum_to_one_or_are_refused(self, parts):
        by, animal = UserFactory(), AnimalFactory()
        shares = [(PersonFactory(), part) for part in parts]
        try:
            set_owners(animal=animal, shares=shares, since=DAY, at=NOW, by=by)
        except Refused:
            assert sum(parts) != 1 or min(parts) == 0
        else:
            assert sum(row.share for row in animal.ownerships.all()) == 1


def test_owners_pay_their_own_shares_in_their_order(merrow, people):
    for position, person in enumerate(people):
        OwnershipFactory(animal=merrow, person=person, numerator=1, denominator=3, position=position)
    assert payers_on(merrow, DAY) == [(person, person, Fraction(1, 3)) for person in people]


def test_a_payer_pays_for_every_owner_and_an_agent_does_not(merrow, people):
    for position, person in enumerate(people[:2]):
        OwnershipFactory(animal=merrow, person=person, numerator=1, denominator=2, position=position)
    trainer = RoleFactory(animal=merrow, kind=Role.Kind.AGENT).person
    assert payers_on(merrow, DAY) == [(people[0], people[0], HALF), (people[1], people[1], HALF)]
    RoleFactory(animal=merrow, kind=Role.Kind.PAYER, person=trainer, since=DAY)
    assert payers_on(merrow, DAY) == [(trainer, people[0], HALF), (trainer, people[1], HALF)]
    assert payers_on(merrow, DAY - timedelta(days=1))[0].payer == people[0]


def test_the_guardian_pays_for_an_owner_too_young_to_sign(merrow, people):
    parent, child = people[0], PersonFactory(under_age=True, guardian=people[0])
    OwnershipFactory(animal=merrow, person=child)
    assert payers_on(merrow, DAY) == [(parent, child, Fraction(1))]


def test_payers_are_read_in_constant_queries(people, django_assert_num_queries):
    for count in (1, 30):
        animals = [OwnershipFactory().animal for _ in range(count)]
        with django_assert_num_queries(2):
            assert all(len(payers) == 1 for payers in payers_for(animals, DAY).values())


def test_five_people_stand_around_one_horse(merrow, people, owner_manager):
    trainer, groom, aunt = (PersonFactory() for _ in range(3))
    set_owners(animal=merrow, shares=[(people[0], HALF), (people[1], HALF)], since=DAY, at=NOW, by=owner_manager)
    holders = {Role.Kind.AGENT: trainer, Role.Kind.HANDLER: groom, Role.Kind.PAYER: aunt}
    set_roles(animal=merrow, holders=holders, since=DAY, at=NOW, by=owner_manager)
    roles = roles_on([merrow], DAY)[merrow.pk]
    assert {kind: role.person for kind, role in roles.items()} == holders
    assert len({*holders.values(), people[0], people[1]}) == 5


def test_a_role_changes_hands_from_a_day_on_and_can_be_given_back(merrow, people, owner_manager):
    payer = Role.Kind.PAYER
    set_roles(animal=merrow, holders={payer: people[0]}, since=date(2026, 1, 1), at=NOW, by=owner_manager)
    set_roles(animal=merrow, holders={payer: people[1]}, since=date(2026, 2, 1), at=NOW, by=owner_manager)
    set_roles(animal=merrow, holders={payer: None}, since=DAY, at=NOW, by=owner_manager)
    held = [roles_on([merrow], day)[merrow.pk].get(payer) for day in (date(2026, 1, 31), date(2026, 3, 1), DAY)]
    assert [role and role.person for role in held] == [people[0], people[1], None]
    assert [entry.changes["payer"] for entry in trail_of(merrow)] == [None, people[1].pk, people[0].pk]


def test_the_same_roles_again_write_nothing(merrow, people, owner_manager):
    for _ in range(2):
        set_roles(animal=merrow, holders={Role.Kind.HANDLER: people[0]}, since=DAY, at=NOW, by=owner_manager)
    assert Role.objects.count() == 1
    assert trail_of(merrow).count() == 1


def test_a_role_from_before_its_latest_change_is_refused(merrow, people, owner_manager):
    RoleFactory(animal=merrow, person=people[0], kind=Role.Kind.AGENT, since=DAY)
    with pytest.raises(Refused, match="only from Mon 2 Mar 2026"):
        set_roles(animal=merrow, holders={Role.Kind.AGENT: people[1]}, since=date(2026, 3, 1), at=NOW, by=owner_manager)
