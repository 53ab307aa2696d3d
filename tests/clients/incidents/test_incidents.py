import io
from datetime import timedelta

import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from clients.incidents.actions import add_to_incident, write_incident
from clients.incidents.models import Incident
from clients.paperwork.models import StopNote
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, BarnFactory

pytestmark = pytest.mark.django_db
WHAT = "The gate swung and caught the near knee."


@pytest.fixture(autouse=True)
def _business(business):
    pass


def draft(now, **changes) -> Incident:
    fields = {
        "happened_at": now - timedelta(hours=2),
        "what": WHAT,
        "present": "Wren Holt at the head, Corin Ashlund at the gate.",
        "done": "Led to the box, looked at, the vet called.",
        "vet_said": "Dr. Lindqvist, 14:10: cold water, comes at four.",
        "horse_hurt": True,
    }
    if "barn" not in changes:
        fields["animal"] = AnimalFactory(name="Biscuit")
    return Incident(**{**fields, **changes})


def text_of(document) -> str:
    pages = pypdf.PdfReader(io.BytesIO(bytes_of(document))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.drawn
def test_a_note_is_kept_locked_and_sealed_with_who_wrote_it(now, owner_manager):
    note = write_incident(incident=draft(now), at=now, by=owner_manager)
    paper = note.papers.get()
    assert paper.is_sealed
    assert (paper.kind, paper.title) == ("incident", "Incident note, Biscuit")
    for words in (WHAT, "Corin Ashlund", "comes at four", "a horse", str(owner_manager)):
        assert words in text_of(paper)
    entry = trail_of(note).get(action="incident written down")
    assert "gate" not in str(entry.changes)
    note.what = "Nothing happened."
    with pytest.raises(ValidationError, match="locked"):
        note.save()
    assert Incident.objects.get().what == WHAT


@pytest.mark.drawn
def test_what_becomes_known_later_stands_under_it_and_on_a_new_paper_beside_the_old_one(now, owner_manager, assistant):
    note = write_incident(incident=draft(now), at=now, by=owner_manager)
    first = note.papers.get()
    addition = add_to_incident(incident=note, text=" The knee was cold. ", at=now + timedelta(days=1), by=assistant)
    assert (addition.text, addition.written_by) == ("The knee was cold.", assistant)
    second = note.papers.exclude(pk=first.pk).get()
    assert "The knee was cold." in text_of(second)
    assert "The knee was cold." not in text_of(first)
    addition.text = "Else."
    with pytest.raises(ValidationError, match="locked"):
        addition.save()


def test_a_note_may_hold_the_horse_until_the_vets_word(now, owner_manager):
    note = write_incident(incident=draft(now), holds_horse=True, at=now, by=owner_manager)
    assert note.stop_note == StopNote.objects.get(animal=note.animal, closed_at__isnull=True)
    assert note.stop_note.seen == WHAT


@pytest.mark.parametrize(
    ("changes", "hold", "match"),
    [
        ({"barn": None}, False, "Name the horse, the place, or both"),
        ({"what": " "}, False, "Write what happened"),
        ({"present": ""}, False, "who was there"),
        ({"done": ""}, False, "what was done"),
        ({"happened_at": timedelta(minutes=1)}, False, "still to come"),
        ({"barn": True}, True, "name the horse"),
    ],
)
def test_a_note_without_its_facts_is_refused_and_nothing_is_kept(changes, hold, match, now, owner_manager):
    if "happened_at" in changes:
        changes = {"happened_at": now + changes["happened_at"]}
    if changes.get("barn"):
        changes = {"barn": BarnFactory()}
    with pytest.raises(Refused, match=match):
        write_incident(incident=draft(now, **changes), holds_horse=hold, at=now, by=owner_manager)
    assert not Incident.objects.exists()
    assert not StopNote.objects.exists()


def test_an_addition_says_something(now, owner_manager):
    note = write_incident(incident=draft(now), at=now, by=owner_manager)
    with pytest.raises(Refused, match="what is to be added"):
        add_to_incident(incident=note, text="  ", at=now, by=owner_manager)


# Screens


def posted(horse, **changes):
    fields = {"animal": horse.pk, "barn": "", "happened_at": "2026-03-02T09:30", "what": WHAT, "horse_hurt": "on"}
    return {**fields, "present": "Wren Holt.", "done": "Called the vet.", "vet_said": "", **changes}


@pytest.mark.parametrize(("who", "status"), [("owner_manager", 200), ("assistant", 200), ("bookkeeper", 403)])
def test_who_may_open_the_pages(who, status, now, client, request):
    note = write_incident(incident=draft(now), at=now, by=UserFactory())
    pages = ["incidents", "incident-new"], ["incident", "incident-add"]
    addresses = [reverse(f"clients:{name}") for name in pages[0]]
    addresses += [reverse(f"clients:{name}", args=[note.pk]) for name in pages[1]]
    for address in addresses:
        client.logout()
        assert client.get(address).status_code == 302
        client.force_login(request.getfixturevalue(who))
        assert client.get(address).status_code == status


def test_a_note_is_written_from_the_horses_page_and_added_to(as_assistant):
    animal = AnimalFactory(name="Biscuit")
    page = as_assistant.get(animal.get_absolute_url()).content.decode()
    address = f"{reverse('clients:incident-new')}?animal={animal.pk}&amp;barn={animal.barn_id}"
    assert address in page
    assert as_assistant.get(address.replace("&amp;", "&")).context["form"].initial["barn"] == str(animal.barn_id)
    answer = as_assistant.post(reverse("clients:incident-new"), posted(animal, holds_horse="on"))
    note = Incident.objects.get()
    assert answer.status_code == 302
    shown = as_assistant.get(note.get_absolute_url()).content.decode()
    assert "on hold by the stop note" in shown
    assert WHAT in as_assistant.get(animal.get_absolute_url()).content.decode()
    added = as_assistant.post(reverse("clients:incident-add", args=[note.pk]), {"text": "Sound again."})
    assert added.status_code == 302
    assert "Sound again." in as_assistant.get(note.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"animal": ""}, "barn"),
        ({"animal": "", "barn": "x", "holds_horse": "on"}, "barn"),
        ({"what": ""}, "what"),
        ({"what": "x" * 5_000}, "what"),
        ({"happened_at": "2031-01-01T10:00"}, None),
        ({"happened_at": "yesterday"}, "happened_at"),
    ],
)
def test_bad_input_is_said_and_loses_nothing(changes, field, as_owner_manager):
    data = posted(AnimalFactory(), **changes)
    answer = as_owner_manager.post(reverse("clients:incident-new"), data)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert field in form.errors if field else form.non_field_errors()
    assert form["done"].value() == "Called the vet."


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_costs_the_same_for_thirty(rows, now, owner_manager, as_owner_manager, django_assert_num_queries):
    for number in range(rows):
        note = draft(now, barn=BarnFactory(), happened_at=now - timedelta(days=number))
        note.written_at, note.written_by = now, owner_manager
        note.save()
    with django_assert_num_queries(5):
        assert as_owner_manager.get(reverse("clients:incidents")).status_code == 200
