import pytest

from clients.people.queries import barns_named, possible_doubles
from tests.factories.clients import BarnFactory, PersonFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "phone"),
    [("imani velloran", ""), ("Somebody Else", "+1 303 555 0100"), ("Imáni  Velloran", "555-9999")],
)
def test_the_same_name_or_number_is_a_possible_double(name, phone):
    known = PersonFactory(name="Imani Velloran", phone="(303) 555-0100")
    PersonFactory(name="Piet Hollinrake", phone="(303) 555-0155")
    assert possible_doubles(name, phone) == [known]


def test_nobody_is_a_double_of_an_empty_form():
    PersonFactory(phone="")
    assert possible_doubles("", "") == []


def test_doubles_are_found_in_two_queries(django_assert_num_queries):
    for count in (1, 30):
        PersonFactory.create_batch(count, name="Ada")
        with django_assert_num_queries(2):
            possible_doubles("Ada", "")


def test_a_barn_is_known_by_its_name_however_it_is_written():
    barn = BarnFactory(name="Étoile Barn")
    assert barns_named(" étoile  BARN ") == [barn]
    assert barns_named("Etoile") == []
