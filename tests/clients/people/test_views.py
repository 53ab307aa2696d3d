import csv
import io

import pytest
from django.urls import reverse

from backoffice.audit.queries import trail_of
from clients.people.models import Barn, Person, VetPractice
from tests.factories.clients import (
    AnimalFactory,
    BarnFactory,
    BarnWindowFactory,
    OwnershipFactory,
    PersonFactory,
    VetPracticeFactory,
)

LISTS = [
    ("clients:people", PersonFactory),
    ("clients:barns", BarnFactory),
    ("clients:vet-practices", VetPracticeFactory),
]
FORMS = ["clients:person-new", "clients:barn-new", "clients:vet-practice-new"]


def names(page: str, *wanted: str) -> list[bool]:
    return [name in page for name in wanted]


@pytest.mark.parametrize(("url", "factory"), LISTS)
def test_a_list_takes_the_same_queries_at_1_and_at_30_rows(as_owner_manager, django_assert_num_queries, url, factory):
    queries = {"clients:people": 5, "clients:barns": 7, "clients:vet-practices": 5}[url]
    factory.create()
    with django_assert_num_queries(queries):
        as_owner_manager.get(reverse(url))
    for row in factory.create_batch(29):
        if factory is BarnFactory:
            BarnWindowFactory(barn=row)
            AnimalFactory(barn=row)
    with django_assert_num_queries(queries):
        as_owner_manager.get(reverse(url))


@pytest.mark.parametrize(("url", "factory"), LISTS)
def test_a_list_is_searched_and_exported(as_owner_manager, url, factory):
    factory(name="Windrow <b>Ember</b>")
    factory(name="Pebbleback")
    page = as_owner_manager.get(reverse(url), {"q": "windrow"}).content.decode()
    assert names(page, "Windrow &lt;b&gt;Ember&lt;/b&gt;", "Pebbleback", "<b>Ember") == [True, False, False]
    export = as_owner_manager.get(reverse(url), {"_export": "csv"}).content.decode()
    assert {row["Name"] for row in csv.DictReader(io.StringIO(export))} == {"Windrow <b>Ember</b>", "Pebbleback"}


@pytest.mark.parametrize("url", [*(url for url, _ in LISTS), *FORMS])
def test_strangers_are_sent_to_sign_in(client, business, url):
    response = client.get(reverse(url))
    assert response.status_code == 302
    assert response.url.startswith(reverse("backoffice:sign-in"))


@pytest.mark.parametrize("url", [url for url, _ in LISTS])
def test_everybody_with_an_account_sees_the_lists(as_assistant, as_bookkeeper, as_owner_manager, url):
    for visitor in (as_assistant, as_bookkeeper, as_owner_manager):
        assert visitor.get(reverse(url)).status_code == 200
    assert b"/new/" not in as_bookkeeper.get(reverse(url)).content


@pytest.mark.parametrize("url", FORMS)
def test_a_bookkeeper_changes_nobody(as_bookkeeper, as_assistant, url):
    assert as_bookkeeper.get(reverse(url)).status_code == 403
    assert as_assistant.get(reverse(url)).status_code == 200


@pytest.mark.parametrize(
    ("url", "factory"),
    [("person-edit", PersonFactory), ("barn-edit", BarnFactory), ("vet-practice-edit", VetPracticeFactory)],
)
def test_a_bookkeeper_edits_nothing(as_bookkeeper, as_assistant, url, factory):
    address = reverse(f"clients:{url}", args=[factory().pk])
    assert as_bookkeeper.post(address, {"name": "X"}).status_code == 403
    assert as_assistant.get(address).status_code == 200


def test_filters_narrow_the_people(as_owner_manager):
    PersonFactory(name="Soft Gate Horse Rescue", kind=Person.Kind.ORGANIZATION)
    PersonFactory(name="Noor Hastwell", phone="")
    page = as_owner_manager.get(reverse("clients:people"), {"kind": "organization"}).content.decode()
    assert names(page, "Soft Gate", "Noor") == [True, False]
    page = as_owner_manager.get(reverse("clients:people"), {"missing": "phone"}).content.decode()
    assert names(page, "Soft Gate", "Noor") == [False, True]


def test_filters_narrow_the_barns(as_owner_manager):
    BarnFactory(name="Copper Hasp", area="North", power=Barn.Answer.YES)
    BarnFactory(name="Latchkey Meadow", area="East", lat=None, lon=None)
    for narrowed, found in (
        ({"area": "North"}, [True, False]),
        ({"power": "yes"}, [True, False]),
        ({"off_map": "true"}, [False, True]),
    ):
        page = as_owner_manager.get(reverse("clients:barns"), narrowed).content.decode()
        assert names(page, "Copper Hasp", "Latchkey") == found


PERSON = {"name": "Imani Velloran", "kind": "person"}


def test_a_person_is_written_down_with_an_entry_and_a_tidy_number(as_assistant, assistant):
    response = as_assistant.post(reverse("clients:person-new"), {**PERSON, "phone": "303 555 0100 ext 4"})
    person = Person.objects.get()
    assert response.url == person.get_absolute_url()
    assert person.phone == "(303) 555-0100 ext. 4"
    entry = trail_of(person).get()
    assert (entry.action, entry.by, entry.changes) == ("person added", assistant, {"fields": ["name", "phone"]})


def test_a_change_names_the_fields_and_not_what_they_hold(as_assistant):
    person = PersonFactory(name="Imani", phone="(303) 555-0100", email="")
    as_assistant.post(
        reverse("clients:person-edit", args=[person.pk]),
        {**PERSON, "phone": "(303) 555-0100", "note": "Rings at noon"},
    )
    assert trail_of(person).get().changes == {"fields": ["name", "note"]}


@pytest.mark.parametrize("name", ["ليلى الحسن", "Ottilie 🐎", "<script>alert(1)</script>"])
def test_any_name_is_accepted_and_shown_as_text(as_assistant, name):
    response = as_assistant.post(reverse("clients:person-new"), {**PERSON, "name": name}, follow=True)
    page = response.content.decode()
    assert Person.objects.get().name == name
    assert "<script>alert" not in page
    assert name.replace("<", "&lt;").replace(">", "&gt;") in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Name is missing."),
        ({"name": "x" * 121}, "Write at most 120 characters; this has 121."),
        ({"phone": "1-800-HORSES"}, "A phone number has no letters"),
        ({"phone": "12"}, "too short for a phone number"),
        ({"email": "nobody"}, "Enter a valid email address."),
        ({"note": "a" * 5_000_000}, "Write at most 2000 characters; this has 5000000."),
        ({"born_on": "2027-01-01"}, "This day is still to come."),
        ({"born_on": "1901-01-01"}, "Born in 1901: 125 years old? Check the year."),
        ({"born_on": "soon"}, "Write a date such as 2026-03-12."),
        ({"born_on": "2010-01-01", "kind": "organization"}, "An organization has no date of birth."),
        ({"kind": "centaur"}, "Choose one from the list."),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(as_assistant, changed, sentence, time_machine):
    time_machine.move_to("2026-03-02 17:00Z")
    response = as_assistant.post(reverse("clients:person-new"), {**PERSON, "address": "14 Fencepost Road", **changed})
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    assert "14 Fencepost Road" in page
    assert not Person.objects.exists()


def test_a_date_of_birth_decides_who_is_too_young_to_sign(as_assistant, time_machine):
    time_machine.move_to("2026-03-02 17:00Z")
    parent = PersonFactory(name="Parent Orrel")
    born = {"born_on": "2010-02-01", "guardian": parent.pk}
    as_assistant.post(reverse("clients:person-new"), {"name": "Tamsin Orrel", "kind": "person", **born})
    tamsin = Person.objects.get(name="Tamsin Orrel")
    assert tamsin.under_age
    assert tamsin.guardian == parent
    response = as_assistant.post(
        reverse("clients:person-new"), {**PERSON, "born_on": "2000-01-01", "guardian": parent.pk}
    )
    assert "Only somebody too young to sign has a guardian here." in response.content.decode()


BARN = {"name": "Tin Bucket Barn", "kind": "private", "power": "unknown", "signal": "unknown", "extra_minutes": "0"}


def test_a_barn_keeps_its_place_its_days_and_its_times(as_assistant):
    lines = {"place": "39.47, -104.68", "area_days": ["MO", "TH"], "opens_1": "08:00", "closes_1": "12:00"}
    lines |= {"day_2": "0", "opens_2": "15:00", "closes_2": "17:30"}
    as_assistant.post(reverse("clients:barn-new"), {**BARN, **lines})
    barn = Barn.objects.get()
    assert (barn.lat, barn.lon, barn.area_weekdays) == (39.47, -104.68, (0, 3))
    assert [(window.weekday, str(window)) for window in barn.windows.all()] in (
        [(None, "08:00–12:00"), (0, "15:00–17:30")],
        [(0, "15:00–17:30"), (None, "08:00–12:00")],
    )


def test_a_barns_form_shows_what_is_kept_and_empty_lines_remove_times(as_assistant):
    barn = BarnWindowFactory(barn__name="Tin Bucket Barn", barn__area_days="MO").barn
    address = reverse("clients:barn-edit", args=[barn.pk])
    page = as_assistant.get(address).content.decode()
    assert names(page, 'value="39.5, -104.72"', 'value="08:00"', 'value="15:00"') == [True, True, True]
    as_assistant.post(address, BARN)
    barn.refresh_from_db()
    assert (barn.is_placed, barn.area_days, barn.windows.count()) == (False, "", 0)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"place": "-104.68, 39.47"}, "Are the two numbers the wrong way round?"),
        ({"place": "39.47, 104.68"}, "km from your base. Is a minus sign missing?"),
        ({"place": "behind the mill"}, "Write latitude and longitude in degrees"),
        ({"opens_1": "15:00", "closes_1": "08:00"}, "It ends before it begins."),
        ({"opens_1": "15:00"}, "A time needs its beginning and its end."),
        ({"opens_1": "25:00", "closes_1": "26:00"}, "Write a time such as 8:30."),
        ({"extra_minutes": "900"}, "Write 120 or less."),
        ({"extra_minutes": "-5"}, "Write 0 or more."),
        ({"extra_minutes": "ten"}, "Write a whole number, in figures."),
        ({"area_days": ["ZZ"]}, "Choose one from the list."),
        ({"name": "copper  HASP"}, "There is already a barn called Copper Hasp."),
        ({"phone": "+44 20 7946 0958 call at noon"}, "A phone number has no letters"),
    ],
)
def test_a_barn_that_cannot_be_gets_a_sentence(as_assistant, changed, sentence):
    BarnFactory(name="Copper Hasp")
    response = as_assistant.post(reverse("clients:barn-new"), {**BARN, "note": "Gate code 4711", **changed})
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    assert "Gate code 4711" in page
    assert Barn.objects.count() == 1


def test_a_landline_in_another_country_is_fine(as_assistant):
    as_assistant.post(reverse("clients:barn-new"), {**BARN, "phone": "+442079460958"})
    assert Barn.objects.get().phone == "+44 20 7946 0958"


def test_a_vet_practice_is_written_down(as_assistant):
    as_assistant.post(reverse("clients:vet-practice-new"), {"name": "Plains Vet", "phone": "3035550199"})
    practice = VetPractice.objects.get()
    assert practice.phone == "(303) 555-0199"
    assert trail_of(practice).get().action == "vet practice added"


def test_a_person_owning_two_horses_counts_two(as_owner_manager):
    person = PersonFactory()
    OwnershipFactory.create_batch(2, person=person)
    export = as_owner_manager.get(reverse("clients:people"), {"_export": "csv"}).content.decode()
    assert next(csv.DictReader(io.StringIO(export)))["Horses"] == "2"
