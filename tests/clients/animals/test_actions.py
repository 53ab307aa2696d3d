from datetime import date, timedelta
from fractions import Fraction

import pytest

from backoffice.audit.models import Entry
from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.animals.actions import (
    HealthAnswer,
    add_animal,
    add_caution,
    end_caution,
    log_enquiry,
    move_to_barn,
    record_health,
)
from clients.animals.models import Animal, Caution, HealthFact, Stay
from clients.animals.queries import cautions_on, health_history, latest_health, payers_on
from clients.people.models import Barn, Person
from tests.conftest import NOW
from tests.factories.clients import AnimalFactory, BarnFactory, CautionFactory, HealthFactFactory, PersonFactory

TODAY = date(2026, 3, 2)
Kind, State = HealthFact.Kind, HealthFact.State


@pytest.fixture
def toto(business):
    return AnimalFactory(name="Toto")


def test_a_horse_is_written_down_with_its_owner(business, owner_manager):
    owner, barn = PersonFactory(), BarnFactory()
    animal = add_animal(animal=Animal(name="Fig", barn=barn), owner=owner, since=TODAY, at=NOW, by=owner_manager)
    assert payers_on(animal, TODAY) == [(owner, owner, Fraction(1))]
    assert [entry.action for entry in trail_of(animal)] == ["owners set", "horse added"]


def test_a_move_keeps_where_the_horse_stood(toto, owner_manager):
    first, second, third = toto.barn, BarnFactory(), BarnFactory()
    move_to_barn(animal=toto, barn=second, on=date(2026, 1, 10), at=NOW, by=owner_manager)
    move_to_barn(animal=toto, barn=third, on=TODAY, at=NOW, by=owner_manager)
    toto.refresh_from_db()
    assert toto.barn == third
    assert [(stay.barn, stay.since, stay.until) for stay in toto.stays.all()] == [
        (second, date(2026, 1, 10), date(2026, 3, 1)),
        (first, None, date(2026, 1, 9)),
    ]
    assert trail_of(toto).first().changes == {"from": second.pk, "to": third.pk, "on": "2026-03-02"}


@pytest.mark.parametrize(
    ("on", "sentence"),
    [(TODAY + timedelta(days=1), "when it has happened"), (date(2026, 1, 10), "came to .* on Sat 10 Jan 2026")],
)
def test_a_move_on_a_day_that_cannot_be_is_refused(toto, owner_manager, on, sentence):
    move_to_barn(animal=toto, barn=BarnFactory(), on=date(2026, 1, 10), at=NOW, by=owner_manager)
    with pytest.raises(Refused, match=sentence):
        move_to_barn(animal=toto, barn=BarnFactory(), on=on, at=NOW, by=owner_manager)
    assert Stay.objects.count() == 1


def test_a_move_to_the_same_barn_is_refused(toto, owner_manager):
    with pytest.raises(Refused, match="already stands"):
        move_to_barn(animal=toto, barn=toto.barn, on=TODAY, at=NOW, by=owner_manager)


def test_the_latest_answer_holds_and_earlier_ones_stay(toto, owner_manager):
    mare = HealthAnswer(State.YES, "Dr. Lindqvist scanned her", covered_on=date(2025, 6, 1))
    record_health(animal=toto, answers={Kind.IN_FOAL: mare}, on=date(2025, 8, 1), at=NOW, by=owner_manager)
    record_health(animal=toto, answers={Kind.IN_FOAL: HealthAnswer(State.NONE)}, on=TODAY, at=NOW, by=owner_manager)
    assert latest_health([toto])[toto.pk][Kind.IN_FOAL].state == State.NONE
    assert [fact.state for fact in health_history(toto)] == [State.NONE, State.YES]
    assert health_history(toto)[1].due_about == date(2026, 5, 7)


def test_an_answer_found_later_for_an_earlier_day_does_not_replace_the_latest(toto, owner_manager):
    answers = {Kind.EPM: HealthAnswer(State.YES)}
    record_health(animal=toto, answers=answers, on=TODAY, at=NOW, by=owner_manager)
    record_health(
        animal=toto, answers={Kind.EPM: HealthAnswer(State.NONE)}, on=date(2025, 1, 1), at=NOW, by=owner_manager
    )
    assert latest_health([toto])[toto.pk][Kind.EPM].state == State.YES


def test_asking_again_writes_a_new_row_and_no_health_into_the_trail(toto, owner_manager):
    for day in (date(2026, 1, 1), TODAY):
        answers = {Kind.EPM: HealthAnswer(State.YES, "vet letter of May")}
        record_health(animal=toto, answers=answers, on=day, at=NOW, by=owner_manager)
    assert HealthFact.objects.count() == 2
    assert not any("vet letter" in str(entry.changes) or "yes" in str(entry.changes) for entry in Entry.objects.all())


def test_never_asked_differs_from_none(toto):
    HealthFactFactory(animal=toto, kind=Kind.EPM, state=State.NONE)
    health = latest_health([toto])[toto.pk]
    assert health[Kind.EPM].state == State.NONE
    assert Kind.IN_FOAL not in health


@pytest.mark.parametrize(
    ("answers", "on", "sentence"),
    [
        ({}, TODAY, "No answer was given"),
        ({Kind.EPM: HealthAnswer(State.NONE)}, TODAY + timedelta(days=1), "still to come"),
        ({Kind.EPM: HealthAnswer(State.YES, covered_on=date(2026, 1, 1))}, TODAY, "covering date goes with"),
        ({Kind.IN_FOAL: HealthAnswer(State.NONE, covered_on=date(2026, 1, 1))}, TODAY, "covering date goes with"),
        ({Kind.IN_FOAL: HealthAnswer(State.YES, covered_on=date(2026, 3, 1))}, date(2026, 2, 1), "later than the day"),
    ],
)
def test_answers_that_cannot_be_are_refused(toto, owner_manager, answers, on, sentence):
    with pytest.raises(Refused, match=sentence):
        record_health(animal=toto, answers=answers, on=on, at=NOW, by=owner_manager)
    assert not HealthFact.objects.exists()


def test_latest_health_is_read_in_one_query(business, django_assert_num_queries):
    for count in (1, 30):
        animals = AnimalFactory.create_batch(count)
        for animal in animals:
            HealthFactFactory(animal=animal, state=State.YES, asked_on=date(2026, 1, 1))
            HealthFactFactory(animal=animal, state=State.NONE)
        with django_assert_num_queries(1):
            latest = latest_health(animals)
        assert {facts[Kind.EPM].state for facts in latest.values()} == {State.NONE}


def test_a_caution_names_who_said_it_and_ends(toto, owner_manager):
    caution = add_caution(
        animal=toto, area="Near hock", said_by="Dr. Lindqvist", said_on=date(2026, 2, 1), at=NOW, by=owner_manager
    )
    assert cautions_on([toto], TODAY)[toto.pk] == [caution]
    end_caution(caution=caution, on=TODAY, at=NOW, by=owner_manager)
    assert cautions_on([toto], TODAY)[toto.pk] == []
    assert cautions_on([toto], TODAY - timedelta(days=1))[toto.pk] == [caution]
    assert [entry.action for entry in trail_of(caution)] == ["caution ended", "caution added"]


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"area": " "}, "place on the body"),
        ({"said_by": ""}, "who said it"),
        ({"said_on": TODAY + timedelta(days=1)}, "still to come"),
    ],
)
def test_a_caution_without_its_facts_is_refused(toto, owner_manager, changed, sentence):
    facts = {"area": "Back", "said_by": "The owner", "said_on": TODAY, **changed}
    with pytest.raises(Refused, match=sentence):
        add_caution(animal=toto, at=NOW, by=owner_manager, **facts)
    assert not Caution.objects.exists()


def test_a_caution_ends_once_and_on_a_day_that_can_be(toto, owner_manager):
    caution = CautionFactory(animal=toto, said_on=date(2026, 2, 1))
    for on, sentence in ((date(2026, 1, 31), "cannot end before"), (TODAY + timedelta(days=1), "still to come")):
        with pytest.raises(Refused, match=sentence):
            end_caution(caution=caution, on=on, at=NOW, by=owner_manager)
    end_caution(caution=caution, on=TODAY, at=NOW, by=owner_manager)
    with pytest.raises(Refused, match="already ended on Mon 2 Mar 2026"):
        end_caution(caution=caution, on=TODAY, at=NOW, by=owner_manager)


ENQUIRY = {
    "name": "Imani Velloran",
    "phone": "303 555 0100",
    "email": "",
    "barn": None,
    "barn_name": "Tin Bucket Barn",
    "asked_about": "A stiff back",
    "on": TODAY,
    "at": NOW,
}


def test_a_name_a_barn_and_a_phone_number_are_enough(owner_manager):
    person = log_enquiry(**ENQUIRY, by=owner_manager)
    assert (person.asked_on, person.asked_about, person.asked_barn.name) == (TODAY, "A stiff back", "Tin Bucket Barn")
    assert not Animal.objects.exists()
    assert trail_of(person).get().action == "enquiry"
    assert "Imani" not in str(list(Entry.objects.values_list("changes", flat=True)))


def test_an_enquiry_with_a_horse_makes_it_the_persons_own(owner_manager):
    person = log_enquiry(**ENQUIRY, horse_name="ليلى", by=owner_manager)
    animal = Animal.objects.get(name="ليلى")
    assert animal.barn.name == "Tin Bucket Barn"
    assert payers_on(animal, TODAY) == [(person, person, Fraction(1))]


def test_a_known_person_barn_and_horse_are_used_again(owner_manager):
    first = log_enquiry(**ENQUIRY, horse_name="Juno", by=owner_manager)
    again = {**ENQUIRY, "barn_name": "tin  bucket BARN", "asked_about": "Juno again", "phone": ""}
    second = log_enquiry(**again, horse_name="juno", known=first, by=owner_manager)
    assert second == first
    assert (Person.objects.count(), Barn.objects.count(), Animal.objects.count()) == (1, 1, 1)
    assert Person.objects.get().phone == "303 555 0100"
    assert Person.objects.get().asked_about == "Juno again"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": " "}, "needs a name"),
        ({"barn_name": " "}, "needs a barn"),
    ],
)
def test_an_enquiry_without_the_three_is_refused(owner_manager, changed, sentence):
    with pytest.raises(Refused, match=sentence):
        log_enquiry(**{**ENQUIRY, **changed}, by=owner_manager)
    assert not Person.objects.exists()


def test_two_barns_of_one_name_are_not_guessed_between(owner_manager):
    BarnFactory.create_batch(2, name="Tin Bucket Barn")
    with pytest.raises(Refused, match="2 barns are called Tin Bucket Barn"):
        log_enquiry(**ENQUIRY, by=owner_manager)
