import pytest
import time_machine
from django.urls import reverse

from backoffice.keeping.models import Erasure
from tests.backoffice.erasing.conftest import LATER, NAME
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory


def kept(person) -> str:
    return reverse("backoffice:person-kept", args=[person.pk])


@time_machine.travel(LATER, tick=False)
def test_looking_changes_nothing_and_says_what_goes_and_what_stays(person, as_owner_manager):
    page = as_owner_manager.get(kept(person)).content.decode()
    assert "Name, address, phone, notes" in page
    assert "Until Sat 31 Dec 2033" in page
    person.refresh_from_db()
    assert person.name == NAME


@time_machine.travel(LATER, tick=False)
def test_erasing_asks_for_a_tick_then_shows_the_certificate(person, as_owner_manager):
    assert as_owner_manager.post(kept(person), {"asked": "person"}).status_code == 422
    answer = as_owner_manager.post(kept(person), {"asked": "person", "sure": "on"}, follow=True)
    assert f"Certificate {Erasure.objects.get().pk}" in answer.content.decode()


def test_only_the_owner_manager_comes_in(person, as_assistant, as_bookkeeper):
    practitioner = signed_in(UserFactory(role="practitioner"))
    for client in (as_assistant, as_bookkeeper, practitioner):
        assert client.get(kept(person)).status_code == 403
        assert client.post(reverse("backoffice:person-data", args=[person.pk])).status_code == 403
        assert client.get(reverse("backoffice:keeping")).status_code == 403


@time_machine.travel(LATER, tick=False)
def test_a_rule_is_changed_with_its_reason_and_day(person, as_owner_manager):
    address = reverse("backoffice:keep-rule", args=["form"])
    bad = as_owner_manager.post(address, {"years": "101", "why": "", "since": "2026-06-01"})
    assert bad.status_code == 422
    as_owner_manager.post(address, {"years": "10", "why": "My insurer, by letter", "since": "2026-06-01"})
    page = as_owner_manager.get(reverse("backoffice:keeping")).content.decode()
    assert "10 years from the last day the form held" in page
    assert as_owner_manager.get(reverse("backoffice:keep-rule", args=["nothing"])).status_code == 404


@time_machine.travel(LATER, tick=False)
def test_the_data_comes_as_a_zip(person, as_owner_manager):
    answer = as_owner_manager.post(reverse("backoffice:person-data", args=[person.pk]))
    assert answer["Content-Type"] == "application/zip"
    assert answer["Cache-Control"] == "no-store"


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_of_erasures_takes_the_same_queries_whatever_its_length(
    as_owner_manager, owner_manager, rows, django_assert_num_queries
):
    for number in range(rows):
        Erasure.objects.create(person_pk=number + 1, asked="person", at=LATER, by=owner_manager)
    as_owner_manager.get(reverse("backoffice:keeping"))
    with django_assert_num_queries(5):
        as_owner_manager.get(reverse("backoffice:keeping"))


@time_machine.travel(LATER, tick=False)
def test_somebody_without_the_owner_s_power_sees_no_link(person, as_owner_manager, as_assistant):
    page = person.get_absolute_url()
    assert kept(person) in as_owner_manager.get(page).content.decode()
    assert kept(person) not in as_assistant.get(page).content.decode()
