import csv
import io
from datetime import date
from fractions import Fraction

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from backoffice.audit.queries import trail_of
from clients.animals.models import Animal, Caution, HealthFact, Ownership, Role, Stay
from clients.animals.queries import animal_facts, payers_on
from tests.factories.clients import (
    AnimalFactory,
    BarnFactory,
    CautionFactory,
    HealthFactFactory,
    OwnershipFactory,
    PersonFactory,
    RoleFactory,
    VetPracticeFactory,
)

TODAY = date(2026, 3, 2)
Kind, State = HealthFact.Kind, HealthFact.State
SEVERAL = "animal-owners", "animal-roles", "animal-move", "animal-edit", "caution-new"


@pytest.fixture(autouse=True)
def _on_monday(time_machine):
    time_machine.move_to("2026-03-02 17:00Z", tick=False)


@pytest.fixture
def merrow(business):
    return AnimalFactory(name="Merrow", sex=Animal.Sex.MARE)


def page_of(response) -> str:
    return response.content.decode()


def test_the_list_takes_the_same_queries_at_1_and_at_30_rows(as_owner_manager, django_assert_num_queries):
    OwnershipFactory()
    with django_assert_num_queries(7):
        as_owner_manager.get(reverse("clients:animals"))
    for _ in range(29):
        animal = OwnershipFactory().animal
        HealthFactFactory(animal=animal, state=State.YES)
        CautionFactory(animal=animal)
    with django_assert_num_queries(7):
        as_owner_manager.get(reverse("clients:animals"))


def test_flags_show_to_those_who_may_see_health(as_assistant, as_bookkeeper):
    lady = AnimalFactory(name="Lady Cairn", isolation=Animal.Isolation.INFECTED)
    HealthFactFactory(animal=lady, kind=Kind.IN_FOAL, state=State.YES)
    HealthFactFactory(animal=lady, kind=Kind.EPM, state=State.YES)
    CautionFactory(animal=lady, said_on=date(2026, 2, 1))
    page = page_of(as_assistant.get(reverse("clients:animals")))
    assert all(f"{flag}</span>" in page for flag in ("Isolated", "In foal", "EPM", "Caution"))
    page = page_of(as_bookkeeper.get(reverse("clients:animals")))
    assert "Lady Cairn" in page
    assert not any(flag in page for flag in ("Isolated", "In foal", "EPM", "Caution"))


def test_an_export_holds_no_health_for_a_bookkeeper(as_assistant, as_bookkeeper):
    HealthFactFactory(kind=Kind.IN_FOAL, state=State.YES)
    address = reverse("clients:animals")
    rows = [
        next(csv.DictReader(io.StringIO(page_of(who.get(address, {"_export": "csv"})))))
        for who in (as_assistant, as_bookkeeper)
    ]
    assert rows[0]["Flags"] == "In foal"
    assert "Flags" not in rows[1]


def test_a_flag_that_no_longer_holds_is_not_shown(as_assistant):
    animal = AnimalFactory(isolation=Animal.Isolation.EXPOSED, isolated_until=date(2026, 3, 1))
    HealthFactFactory(animal=animal, kind=Kind.EPM, state=State.YES, asked_on=date(2026, 1, 1))
    HealthFactFactory(animal=animal, kind=Kind.EPM, state=State.NONE, asked_on=date(2026, 2, 1))
    CautionFactory(animal=animal, ended_on=date(2026, 3, 2))
    export = page_of(as_assistant.get(reverse("clients:animals"), {"_export": "csv"}))
    assert next(csv.DictReader(io.StringIO(export)))["Flags"] in {"", "–"}


def test_horses_are_found_by_owner_barn_and_flag(as_assistant):
    juno = OwnershipFactory(animal__name="Juno", person__name="Imani Velloran").animal
    AnimalFactory(name="Old Peter")
    AnimalFactory(name="Long Gone", died_on=date(2025, 1, 1))
    HealthFactFactory(animal=juno, kind=Kind.EPM, state=State.YES)
    for asked in ({"q": "velloran"}, {"barn": juno.barn_id}, {"flag": "has_epm"}):
        page = page_of(as_assistant.get(reverse("clients:animals"), asked))
        assert (">Juno<" in page, "Old Peter" in page) == (True, False)
    everybody = page_of(as_assistant.get(reverse("clients:animals")))
    assert ("Long Gone" in everybody, "Old Peter" in everybody) == (False, True)
    assert "Long Gone" in page_of(as_assistant.get(reverse("clients:animals"), {"living": "no"}))


@pytest.mark.parametrize("name", [*SEVERAL, "animal-health"])
def test_strangers_and_bookkeepers_do_not_get_in(client, as_bookkeeper, as_assistant, merrow, name):
    address = reverse(f"clients:{name}", args=[merrow.pk])
    assert client.get(address).status_code == 302
    assert as_bookkeeper.get(address).status_code == 403
    assert as_assistant.get(address).status_code == 200


def test_a_page_of_nobody_is_not_found(as_assistant):
    for name in ("animal-edit", "person", "barn", "vet-practice", "caution-end"):
        assert as_assistant.get(reverse(f"clients:{name}", args=[999_999])).status_code == 404


def new_horse(**changed):
    return {
        "name": "Fig",
        "barn": BarnFactory().pk,
        "owner": PersonFactory().pk,
        "since": "2026-03-01",
        "sex": "unknown",
        "isolation": "clean",
        **changed,
    }


def test_a_new_horse_belongs_wholly_to_one_person(as_assistant):
    response = as_assistant.post(reverse("clients:animal-new"), new_horse(name="ليلى 🐎"))
    animal = Animal.objects.get()
    assert response.url == animal.get_absolute_url()
    assert [(payer.name, share) for payer, _, share in payers_on(animal, TODAY)] == [
        (Ownership.objects.get().person.name, Fraction(1))
    ]


def test_a_second_horse_of_the_same_name_at_the_barn_is_pointed_out(as_assistant):
    twin = AnimalFactory(name="Fig")
    response = as_assistant.post(reverse("clients:animal-new"), new_horse(barn=twin.barn_id))
    assert response.status_code == 302
    page = page_of(as_assistant.get(reverse("clients:people")))
    assert f"There is another Fig at {twin.barn}" in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"birth_year": "1926"}, "Born in 1926: a horse of 100 years? Check the year."),
        ({"birth_year": "2027"}, "This year is still to come."),
        ({"birth_year": "0"}, "a horse of 2026 years?"),
        ({"birth_year": "old"}, "Write a whole number, in figures."),
        ({"microchip": "9680000045312"}, "A microchip number has 15 digits; this one has 13."),
        ({"microchip": "999000000000001"}, "is a test chip"),
        ({"isolated_until": "1926-03-02", "isolation": "infected"}, "This date is before 1980. Check the year."),
        ({"isolated_until": "2026-04-01"}, "An end goes with exposed or isolated."),
        ({"since": "2026-03-03"}, "This day is still to come."),
        ({"name": "x" * 81}, "Write at most 80 characters; this has 81."),
        ({"note": "a" * 5_000_000}, "Write at most 2000 characters; this has 5000000."),
        ({"owner": "999999"}, "Choose one from the list."),
        ({"barn": ""}, "Barn is missing."),
    ],
)
def test_a_horse_that_cannot_be_gets_a_sentence(as_assistant, changed, sentence):
    response = as_assistant.post(reverse("clients:animal-new"), new_horse(handling="Kicks when tied", **changed))
    page = page_of(response)
    assert response.status_code == 422
    assert sentence in page
    assert "Kicks when tied" in page
    assert not Animal.objects.exists()


def test_a_horse_is_changed_with_an_entry(as_assistant, merrow):
    changed = {
        "name": "Merrow",
        "sex": "mare",
        "isolation": "clean",
        "microchip": "968 000 004 531 234",
        "shares_photos": "no",
    }
    as_assistant.post(reverse("clients:animal-edit", args=[merrow.pk]), changed)
    merrow.refresh_from_db()
    assert (merrow.microchip, merrow.shares_photos) == ("968000004531234", False)
    assert trail_of(merrow).get().action == "animal changed"


@pytest.fixture
def sisters(business):
    return [PersonFactory(name=name) for name in ("Ada", "Bea", "Cy")]


def test_three_shares_are_set_from_a_day_on(as_assistant, merrow, sisters):
    lines = {f"owner_{n}": person.pk for n, person in enumerate(sisters, start=1)}
    lines |= {"share_1": "50 %", "share_2": "3/10", "share_3": "20", "since": "2026-03-02"}
    response = as_assistant.post(reverse("clients:animal-owners", args=[merrow.pk]), lines)
    assert response.status_code == 302
    assert [(owner.name, share) for _, owner, share in payers_on(merrow, TODAY)] == [
        ("Ada", Fraction(1, 2)),
        ("Bea", Fraction(3, 10)),
        ("Cy", Fraction(1, 5)),
    ]
    page = page_of(as_assistant.get(reverse("clients:animal-owners", args=[merrow.pk])))
    assert all(f'value="{share}"' in page for share in ("50 %", "30 %", "20 %"))


def test_one_owner_alone_needs_no_share(as_assistant, merrow, sisters):
    lines = {"owner_1": sisters[0].pk, "since": "2026-03-02"}
    as_assistant.post(reverse("clients:animal-owners", args=[merrow.pk]), lines)
    assert payers_on(merrow, TODAY) == [(sisters[0], sisters[0], Fraction(1))]


@pytest.mark.parametrize(
    ("shares", "wrong"),
    [
        (["130 %"], ("share_1", "130 % is more than the whole horse.")),
        (["80 %", "50 %"], ("share_2", "The shares add up to 130 %: 30 % too much.")),
        (["50 %", "30 %"], ("share_2", "The shares add up to 80 %: 20 % is missing.")),
        (["33.33 %", "33.33 %", "33.33 %"], ("share_3", "For thirds, write 1/3.")),
        (["50 %", ""], ("share_2", "How much of the horse belongs to Bea?")),
        (["half", "half"], ("share_1", "Write a share as a percentage or a fraction")),
        ([], ("owner_1", "A horse needs at least one owner.")),
        (["<script>alert(1)</script>"], ("share_1", "Write a share as a percentage or a fraction")),
    ],
)
def test_shares_that_do_not_add_up_get_a_sentence_at_their_field(as_assistant, merrow, sisters, shares, wrong):
    lines = {"since": "2026-03-02"}
    for number, (person, share) in enumerate(zip(sisters, shares, strict=False), start=1):
        lines |= {f"owner_{number}": person.pk, f"share_{number}": share}
    response = as_assistant.post(reverse("clients:animal-owners", args=[merrow.pk]), lines)
    assert response.status_code == 422
    field, sentence = wrong
    assert sentence in response.context["form"].errors[field][0]
    assert "<script>alert" not in page_of(response)
    assert not Ownership.objects.exists()


def test_a_share_of_nobody_and_a_person_twice_get_a_sentence(as_assistant, merrow, sisters):
    address = reverse("clients:animal-owners", args=[merrow.pk])
    response = as_assistant.post(address, {"since": "2026-03-02", "share_1": "1"})
    assert "Whose share is this?" in page_of(response)
    lines = {"owner_1": sisters[0].pk, "share_1": "50", "owner_2": sisters[0].pk, "share_2": "50"}
    response = as_assistant.post(address, {"since": "2026-03-02", **lines})
    assert "Ada is named twice: add the two shares together." in page_of(response)


def test_a_refused_change_of_owners_keeps_what_was_typed(as_assistant, merrow, sisters):
    OwnershipFactory(animal=merrow, since=TODAY)
    lines = {"owner_1": sisters[0].pk, "share_1": "100 %", "since": "2026-01-01"}
    response = as_assistant.post(reverse("clients:animal-owners", args=[merrow.pk]), lines)
    assert response.status_code == 422
    assert "already has owners from a later day, Mon 2 Mar 2026" in page_of(response)
    assert f'<option value="{sisters[0].pk}" selected>' in page_of(response)


def test_somebody_else_is_named_and_given_back(as_assistant, merrow, sisters):
    OwnershipFactory(animal=merrow, person=sisters[0])
    address = reverse("clients:animal-roles", args=[merrow.pk])
    as_assistant.post(address, {"payer": sisters[1].pk, "agent": sisters[2].pk, "since": "2026-03-01"})
    assert payers_on(merrow, TODAY)[0].payer == sisters[1]
    as_assistant.post(address, {"agent": sisters[2].pk, "since": "2026-03-02"})
    assert payers_on(merrow, TODAY)[0].payer == sisters[0]
    response = as_assistant.post(address, {"agent": sisters[0].pk, "since": "2026-01-01"})
    assert (response.status_code, "Choose that day or a later one." in page_of(response)) == (422, True)


def test_a_moved_horse_stands_elsewhere(as_assistant, merrow):
    old, new = merrow.barn, BarnFactory()
    address = reverse("clients:animal-move", args=[merrow.pk])
    assert as_assistant.post(address, {"barn": new.pk, "on": "2026-03-02"}).status_code == 302
    assert Stay.objects.get().barn == old
    response = as_assistant.post(address, {"barn": new.pk, "on": "2026-03-02"})
    assert "Choose one from the list." in page_of(response)
    response = as_assistant.post(address, {"barn": old.pk, "on": "2026-03-02"})
    assert "A move away is later than that." in page_of(response)
    response = as_assistant.post(address, {"barn": old.pk, "on": "2026-03-03"})
    assert "This day is still to come." in page_of(response)


def test_a_caution_is_added_and_ended(as_assistant, merrow):
    said = {"area": "Near hock", "said_by": "Dr. Lindqvist", "said_on": "2026-02-01", "note": "Old scar"}
    as_assistant.post(reverse("clients:caution-new", args=[merrow.pk]), said)
    caution = Caution.objects.get()
    address = reverse("clients:caution-end", args=[caution.pk])
    assert "cannot end before that" in page_of(as_assistant.post(address, {"on": "2026-01-31"}))
    as_assistant.post(address, {"on": "2026-03-02"})
    caution.refresh_from_db()
    assert caution.ended_on == TODAY
    assert "already ended" in page_of(as_assistant.post(address, {"on": "2026-03-02"}))


def test_a_caution_without_who_said_it_gets_a_sentence(as_assistant, merrow):
    response = as_assistant.post(
        reverse("clients:caution-new", args=[merrow.pk]), {"area": "Back", "said_on": "1926-01-01"}
    )
    assert "Who said it is missing." in page_of(response)
    assert "This date is before 1980. Check the year." in page_of(response)


def test_a_bookkeeper_ends_no_caution(as_bookkeeper, merrow):
    caution = CautionFactory(animal=merrow)
    assert (
        as_bookkeeper.post(reverse("clients:caution-end", args=[caution.pk]), {"on": "2026-03-02"}).status_code == 403
    )


def facts_shown(animal, **may):
    return render_to_string("clients/animals/_facts.html", {"facts": animal_facts(animal, TODAY), "may": may})


def test_the_facts_show_five_people_around_one_horse(merrow, sisters):
    for position, (person, share) in enumerate(zip(sisters[:2], ((1, 3), (2, 3)), strict=True)):
        OwnershipFactory(animal=merrow, person=person, numerator=share[0], denominator=share[1], position=position)
    RoleFactory(animal=merrow, kind=Role.Kind.AGENT, person__name="Greta")
    RoleFactory(animal=merrow, kind=Role.Kind.PAYER, person__name="Aunt")
    RoleFactory(animal=merrow, kind=Role.Kind.HANDLER, person__name="Groom")
    shown = facts_shown(merrow)
    assert all(name in shown for name in ("Ada", "1/3", "Bea", "2/3", "Greta", "Aunt", "Groom"))
    assert "animal-owners" not in shown
    assert "Owners and shares" not in shown
    assert "Owners and shares" in facts_shown(merrow, change_care=True)


def test_the_facts_hide_health_from_those_who_may_not_see_it(merrow):
    HealthFactFactory(animal=merrow, kind=Kind.IN_FOAL, state=State.YES, covered_on=date(2025, 6, 1))
    CautionFactory(animal=merrow, area="Near hock")
    shown = facts_shown(merrow, see_health=True)
    assert "Recorded: In foal, or covered since" in shown
    assert "This software does not judge illness. Wait and ask the horse's vet." in shown
    assert "due about Thu 7 May" in shown
    assert "Near hock" in shown
    hidden = facts_shown(merrow)
    assert not any(word in hidden for word in ("foal", "hock", "judge illness"))


def test_the_facts_are_read_in_a_constant_number_of_queries(merrow, django_assert_num_queries):
    for count in (1, 30):
        for _ in range(count):
            OwnershipFactory(animal=merrow, numerator=1, denominator=31)
            CautionFactory(animal=merrow)
            HealthFactFactory(animal=merrow)
        with django_assert_num_queries(7):
            animal_facts(merrow, TODAY)


def test_what_is_missing_is_shown_kindly(merrow):
    shown = facts_shown(merrow)
    assert "No owner yet: nobody can sign or be billed." in shown
    assert "No vet practice yet" in shown


@pytest.mark.parametrize("may_see", [True, False])
def test_a_barns_page_shows_the_gate_the_horses_and_what_is_missing(as_assistant, as_bookkeeper, may_see):
    barn = BarnFactory(name="Latchkey Meadow", lat=None, lon=None, note="Gate code 4711\n<b>dog</b>")
    lady = AnimalFactory(name="Lady Cairn", barn=barn)
    HealthFactFactory(animal=lady, kind=Kind.IN_FOAL, state=State.YES)
    page = page_of((as_assistant if may_see else as_bookkeeper).get(barn.get_absolute_url()))
    assert "Not on the map yet: rounds leave it out." in page
    assert "Gate code 4711<br>&lt;b&gt;dog&lt;/b&gt;" in page
    assert "Lady Cairn" in page
    assert ("In foal" in page) is may_see


def test_a_persons_page_shows_horses_shares_roles_and_wards(as_assistant, merrow):
    greta = PersonFactory(name="Greta Ashlund", phone="", asked_on=date(2026, 2, 1), asked_about="A <b>stiff</b> back")
    OwnershipFactory(person=greta, animal=merrow, numerator=1, denominator=3)
    RoleFactory(person=greta, animal__name="Kestrel Hour", kind=Role.Kind.AGENT)
    PersonFactory(name="Tamsin Orrel", under_age=True, guardian=greta)
    page = page_of(as_assistant.get(greta.get_absolute_url()))
    for words in ("Merrow", "1/3", "Kestrel Hour", "Agent (orders for the owners)", "Tamsin Orrel"):
        assert words in page
    assert "No phone number yet." in page
    assert "A &lt;b&gt;stiff&lt;/b&gt; back" in page


def test_a_minors_page_names_who_signs_and_pays(as_assistant):
    tamsin = PersonFactory(under_age=True, guardian=PersonFactory(name="Parent Orrel"))
    assert "Parent Orrel</a> signs and pays." in page_of(as_assistant.get(tamsin.get_absolute_url()))


def test_a_vet_practices_page_shows_its_horses(as_assistant, as_bookkeeper):
    practice = VetPracticeFactory(phone="")
    AnimalFactory(name="Juno", vet_practice=practice)
    page = page_of(as_assistant.get(practice.get_absolute_url()))
    assert "Juno" in page
    assert "No phone number yet" in page
    assert as_bookkeeper.get(practice.get_absolute_url()).status_code == 200
