from datetime import date

import pytest

from clients.animals.models import Animal
from clients.people.models import Barn, Person
from tests.factories.clients import BarnFactory, PersonFactory


@pytest.fixture(autouse=True)
def _on_monday(time_machine):
    time_machine.move_to("2026-03-02 17:00Z", tick=False)


ADDRESS = "/enquiry/"
ENQUIRY = {"name": "Imani Velloran", "phone": "303 555 0100", "barn_name": "Tin Bucket Barn", "on": "2026-03-02"}


def test_three_answers_are_enough_and_the_page_shows_what_is_missing(as_assistant):
    response = as_assistant.post(ADDRESS, ENQUIRY, follow=True)
    person = Person.objects.get()
    page = response.content.decode()
    assert (person.phone, person.asked_on, person.asked_barn.name) == (
        "(303) 555-0100",
        date(2026, 3, 2),
        "Tin Bucket Barn",
    )
    assert "No email yet" in page
    assert "The enquiry of Imani Velloran is written down." in page


def test_a_known_barn_is_used_again(as_assistant):
    barn = BarnFactory(name="Tin Bucket Barn")
    assert '<option value="Tin Bucket Barn">' in as_assistant.get(ADDRESS).content.decode()
    as_assistant.post(ADDRESS, {**ENQUIRY, "barn_name": "tin bucket barn", "horse_name": "Juno"})
    assert Barn.objects.get() == barn
    assert Animal.objects.get().barn == barn


@pytest.mark.parametrize("double", [{"name": "imani velloran"}, {"phone": "+1 (303) 555-0100"}])
def test_a_possible_double_is_shown_before_saving(as_assistant, double):
    PersonFactory(**{"name": "Somebody", "phone": "555-0199", **double})
    response = as_assistant.post(ADDRESS, {**ENQUIRY, "asked_about": "A stiff back"})
    page = response.content.decode()
    assert response.status_code == 422
    assert "Somebody like this is written down already: choose." in page
    assert "No, somebody new" in page
    assert "A stiff back" in page
    assert Person.objects.count() == 1


def test_the_known_person_is_used_when_chosen(as_assistant):
    known = PersonFactory(name="Imani Velloran", phone="")
    response = as_assistant.post(ADDRESS, {**ENQUIRY, "known": known.pk})
    assert response.url == known.get_absolute_url()
    known.refresh_from_db()
    assert known.phone == "(303) 555-0100"
    assert Person.objects.count() == 1


def test_somebody_new_of_the_same_name_is_written_down_when_said_so(as_assistant):
    PersonFactory(name="Imani Velloran", phone="")
    as_assistant.post(ADDRESS, {**ENQUIRY, "known": "new"})
    assert Person.objects.count() == 2


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Name is missing."),
        ({"phone": "call me"}, "A phone number has no letters"),
        ({"barn_name": "  "}, "Barn is missing."),
        ({"on": "1926-03-02"}, "This date is before 1980."),
        ({"on": "2026-03-03"}, "This day is still to come."),
        ({"email": "nobody@"}, "Enter a valid email address."),
        ({"asked_about": "a" * 5_000_000}, "Write at most 2000 characters; this has 5000000."),
        ({"barn_name": "Twin Barn"}, "2 barns are called Twin Barn."),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(as_assistant, changed, sentence):
    BarnFactory.create_batch(2, name="Twin Barn")
    response = as_assistant.post(ADDRESS, {**ENQUIRY, "horse_name": "Juno", **changed})
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    assert 'value="Juno"' in page
    assert not Person.objects.exists()


def test_a_name_and_a_barn_are_enough_and_the_record_says_what_is_missing(as_assistant):
    page = as_assistant.post(ADDRESS, {**ENQUIRY, "phone": "", "email": ""}, follow=True).content.decode()
    assert Person.objects.get().phone == ""
    assert "No phone number" in page


@pytest.mark.parametrize("name", ["ليلى الحسن", "Ottilie 🐎", "<script>alert(1)</script>"])
def test_any_name_is_taken_and_shown_as_text(as_assistant, name):
    page = as_assistant.post(ADDRESS, {**ENQUIRY, "name": name, "horse_name": name}, follow=True).content.decode()
    assert Person.objects.get().name == Animal.objects.get().name == name
    assert "<script>alert" not in page
    assert name.replace("<", "&lt;").replace(">", "&gt;") in page


def test_who_may_log_an_enquiry(client, as_assistant, as_bookkeeper, as_owner_manager):
    assert client.get(ADDRESS).status_code == 302
    assert as_bookkeeper.get(ADDRESS).status_code == 403
    assert [who.get(ADDRESS).status_code for who in (as_assistant, as_owner_manager)] == [200, 200]
