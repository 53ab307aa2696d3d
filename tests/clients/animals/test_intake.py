from datetime import date

import pytest
from django.urls import reverse

from clients.animals.models import Animal, HealthFact
from clients.animals.queries import latest_health
from tests.factories.clients import AnimalFactory, HealthFactFactory

Kind, State = HealthFact.Kind, HealthFact.State


@pytest.fixture(autouse=True)
def _on_monday(time_machine):
    time_machine.move_to("2026-03-02 17:00Z", tick=False)


@pytest.fixture
def lady(business):
    return AnimalFactory(name="Lady Cairn", sex=Animal.Sex.MARE)


@pytest.fixture
def address(lady):
    return reverse("clients:animal-health", args=[lady.pk])


ASKED = {"on": "2026-03-02"}


def test_only_what_was_answered_is_written_down(as_assistant, assistant, lady, address):
    answers = {kind: "not_asked" for kind in Kind}
    answers |= {"epm": "none", "in_foal": "yes", "covered_on": "2025-09-01", "in_foal_note": "Dr. Lindqvist says so"}
    assert as_assistant.post(address, {**ASKED, **answers}).status_code == 302
    health = latest_health([lady])[lady.pk]
    assert {kind: fact.state for kind, fact in health.items()} == {"epm": "none", "in_foal": "yes"}
    assert health["in_foal"].due_about == date(2026, 8, 7)
    assert (health["epm"].asked_on, health["epm"].recorded_by) == (date(2026, 3, 2), assistant)


def test_what_stays_as_before_is_only_asked_again_when_said_so(as_assistant, lady, address):
    HealthFactFactory(animal=lady, kind=Kind.MEDICINE, state=State.YES, note="Joint powder", asked_on=date(2025, 9, 1))
    HealthFactFactory(animal=lady, kind=Kind.EPM, state=State.NONE, asked_on=date(2025, 9, 1))
    as_assistant.post(address, {**ASKED, "bleeding": "none"})
    assert latest_health([lady])[lady.pk]["medicine"].asked_on == date(2025, 9, 1)
    as_assistant.post(address, {**ASKED, "asked_again": "on"})
    health = latest_health([lady])[lady.pk]
    assert {fact.asked_on for fact in health.values()} == {date(2026, 3, 2)}
    assert health["medicine"].note == "Joint powder"
    assert HealthFact.objects.count() == 6


def test_an_answer_can_be_taken_back_to_not_asked(as_assistant, lady, address):
    HealthFactFactory(animal=lady, kind=Kind.EPM, state=State.NONE, asked_on=date(2025, 9, 1))
    as_assistant.post(address, {**ASKED, "epm": "not_asked"})
    assert latest_health([lady])[lady.pk]["epm"].state == State.NOT_ASKED


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({}, "__all__", "Nothing was answered"),
        ({"asked_again": "on"}, "__all__", "Nothing was answered"),
        ({"epm": "maybe"}, "epm", "Choose one from the list."),
        ({"epm_note": "in May"}, "epm", "A note goes with an answer: choose one."),
        ({"medicine": "yes"}, "medicine_note", "Which medicine is it?"),
        ({"epm": "none", "on": "2026-03-03"}, "on", "This day is still to come."),
        ({"epm": "none", "on": "1926-03-02"}, "on", "This date is before 1980."),
        ({"epm": "none", "on": ""}, "on", "Asked on is missing."),
        ({"in_foal": "none", "covered_on": "2025-09-01"}, "covered_on", "A covering date goes with “yes”."),
        ({"in_foal": "yes", "covered_on": "2026-03-03"}, "covered_on", "later than the day of asking"),
        ({"in_foal": "yes", "covered_on": "2024-09-01"}, "covered_on", "the foal was due about Thu 7 Aug 2025"),
        ({"in_foal": "yes", "covered_on": "1926-09-01"}, "covered_on", "This date is before 1980."),
        ({"epm": "yes", "epm_note": "a" * 5_000_000}, "epm_note", "Write at most 500 characters"),
    ],
)
def test_answers_that_cannot_be_get_a_sentence_at_their_field(as_assistant, address, changed, field, sentence):
    response = as_assistant.post(address, {**ASKED, "bleeding_note": "", **changed})
    assert response.status_code == 422
    assert sentence in response.context["form"].errors[field][0]
    assert not HealthFact.objects.exists()


def test_a_gelding_is_not_in_foal(as_assistant, lady, address):
    Animal.objects.filter(pk=lady.pk).update(sex=Animal.Sex.GELDING)
    response = as_assistant.post(address, {**ASKED, "in_foal": "yes"})
    assert "Lady Cairn is written down as a gelding." in response.content.decode()


def test_earlier_answers_stay_readable_as_text(as_assistant, lady, address):
    HealthFactFactory(animal=lady, kind=Kind.EPM, state=State.YES, note="<script>alert(1)</script>")
    HealthFactFactory(animal=lady, kind=Kind.EPM, state=State.NONE, asked_on=date(2026, 3, 2))
    page = as_assistant.get(address).content.decode()
    assert "&lt;script&gt;alert(1)" in page
    assert "<script>alert" not in page
    assert "As before: none" in page


def test_a_bookkeeper_neither_reads_nor_writes_health(as_bookkeeper, address):
    assert as_bookkeeper.get(address).status_code == 403
    assert as_bookkeeper.post(address, {**ASKED, "epm": "none"}).status_code == 403
    assert not HealthFact.objects.exists()
