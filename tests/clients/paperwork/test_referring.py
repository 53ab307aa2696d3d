import io
from datetime import date

import pypdf
import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.queries import bytes_of
from backoffice.documents.uploads import checked
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.models import HealthFact
from clients.paperwork.models import VetReferral
from clients.paperwork.queries import permission_for_each, work_of
from clients.paperwork.referring import Letter, answer_referral, link_to_answer, record_letter, request_referral
from tests.conftest import NOW
from tests.factories.clients import AnimalFactory, HealthFactFactory, ServiceFactory, VetPracticeFactory
from tests.factories.paperwork import ready_animal, referral_for, vet_word
from tests.uploads import photo, upload

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)


@pytest.fixture
def waiting(business):
    """A mare in foal whose vet was asked and has not answered."""
    animal = ready_animal(name="Marigold")
    HealthFactFactory(animal=animal, kind=HealthFact.Kind.IN_FOAL, state=HealthFact.State.YES)
    return referral_for(animal, answer="waiting", answered_on=None, since=None, until=None)


def result(animal, on=TODAY, kind="full"):
    return permission_for_each([(animal, work_of(ServiceFactory(kind=kind)))], on=on)[0].result


def test_asking_the_vet_makes_a_request_and_a_private_link(business, now, owner_manager):
    animal = AnimalFactory()
    referral, token = request_referral(
        animal=animal, practice=VetPracticeFactory(), asked=" May she? ", at=now, by=owner_manager
    )
    assert (referral.answer, referral.asked, referral.asked_on) == ("waiting", "May she?", TODAY)
    link = PrivateLink.objects.get(target_pk=referral.pk, purpose="referral")
    assert token not in link.token_hash
    assert [entry.action for entry in trail_of(referral)] == ["vet asked"]


def test_asking_the_vet_is_refused_without_a_question_twice_or_for_a_dead_horse(waiting, now, owner_manager):
    def ask(match, animal=waiting.animal, asked="May she?"):
        with pytest.raises(Refused, match=match):
            request_referral(animal=animal, practice=waiting.practice, asked=asked, at=now, by=owner_manager)

    ask("Write what the vet is asked", asked=" ")
    ask("already asked")
    ask("died on", animal=AnimalFactory(died_on=TODAY))


def test_a_yes_opens_work_for_its_days_and_services_and_the_day_after_asks_again(waiting, now):
    assert result(waiting.animal) == "hold"
    answer_referral(referral=waiting, word=vet_word(service_kinds=["spot"], until=date(2026, 3, 20)), at=now)
    assert result(waiting.animal, kind="spot") == "ready"
    assert result(waiting.animal, kind="full") == "hold"
    assert result(waiting.animal, kind="spot", on=date(2026, 3, 21)) == "hold"


@pytest.mark.drawn
def test_a_yes_for_some_places_is_kept_in_the_order_of_the_body_and_closes_the_rest(waiting, now):
    word = vet_word(answer="conditions", places=["Hocks", "Withers"])
    answered = answer_referral(referral=waiting, word=word, at=now)
    assert answered.places == ["Withers", "Hocks"]
    assert (result(waiting.animal, kind="full"), result(waiting.animal, kind="spot")) == ("hold", "ready")
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(bytes_of(answered.document))).pages)
    assert "Withers, Hocks" in text


def test_a_no_keeps_no_days(waiting, now):
    answered = answer_referral(referral=waiting, word=vet_word(answer="no", conditions="Not before she foals."), at=now)
    assert (answered.answer, answered.since, answered.until) == ("no", None, None)
    assert result(waiting.animal) == "hold"


@pytest.mark.drawn
def test_an_answer_is_kept_sealed_with_who_gave_it_and_from_what_examination(waiting, now):
    word = vet_word(answer="conditions", conditions="Not below the knee.", max_minutes=20, service_kinds=["spot"])
    answered = answer_referral(referral=waiting, word=word, at=now)
    content = bytes_of(answered.document)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages).split())
    for words in ("Dr. Ada Lindqvist", "CO-4471", "27 Feb 2026", "Not below the knee.", "20", "Spot", "31 May 2026"):
        assert words in text
    assert answered.document.is_sealed
    entry = trail_of(answered).first()
    assert entry.action == "vet answered"
    assert "Lindqvist" not in str(entry.changes)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"answer": "maybe"}, "Choose yes"),
        ({"answer": "waiting"}, "Choose yes"),
        ({"vet_name": " "}, "registration number"),
        ({"registration_number": ""}, "registration number"),
        ({"examined_on": date(2026, 3, 3)}, "still to come"),
        ({"examined_on": date(1926, 3, 1)}, "more than a year ago"),
        ({"service_kinds": ["surgery"]}, "services from the list"),
        ({"places": ["Spleen"]}, "places from the list"),
        ({"answer": "conditions"}, "Write the conditions"),
        ({"until": None}, "first day and a last day"),
        ({"since": None}, "first day and a last day"),
        ({"until": date(2026, 3, 1)}, "before the first"),
        ({"since": date(2026, 1, 1), "until": date(2026, 3, 1)}, "already past"),
        ({"until": date(2029, 1, 1)}, "at most two years"),
        ({"max_minutes": 900}, "between 1 and 300"),
        ({"max_minutes": 0}, "between 1 and 300"),
    ],
)
def test_an_answer_that_does_not_hold_together_is_refused(waiting, now, change, match):
    with pytest.raises(Refused, match=match):
        answer_referral(referral=waiting, word=vet_word(**change), at=now)
    waiting.refresh_from_db()
    assert waiting.answer == VetReferral.Answer.WAITING


def test_an_answer_is_given_once(waiting, now, owner_manager):
    answer_referral(referral=waiting, word=vet_word(), at=now)
    with pytest.raises(Refused, match="already answered"):
        answer_referral(referral=waiting, word=vet_word(answer="no"), at=now)
    with pytest.raises(Refused, match="already answered"):
        link_to_answer(referral=waiting, at=now, by=owner_manager)


# A letter, scanned in


def keep_letter(waiting, now, by, *, scan=None, confirmed="call_back", note="", **word):
    letter = Letter(scan=[checked(photo())] if scan is None else scan, confirmed=confirmed, confirmed_note=note)
    return record_letter(referral=waiting, word=vet_word(**word), letter=letter, at=now, by=by)


def test_a_letter_opens_work_like_an_answer_on_the_private_page(waiting, now, owner_manager, private_folder):
    token = link_to_answer(referral=waiting, at=now, by=owner_manager)
    kept = keep_letter(waiting, now, owner_manager, service_kinds=["spot"], note="Spoke to the desk.")
    assert (kept.answer, kept.confirmed, kept.confirmed_note) == ("yes", "call_back", "Spoke to the desk.")
    assert result(waiting.animal, kind="spot") == "ready"
    assert result(waiting.animal, kind="full") == "hold"
    assert token
    assert PrivateLink.objects.get().revoked_at == now


@pytest.mark.drawn
def test_the_letter_is_in_the_sealed_paper_with_how_it_was_confirmed_and_kept_as_given(
    waiting, now, owner_manager, private_folder
):
    kept = keep_letter(waiting, now, owner_manager, note="Spoke to the desk.")
    pages = pypdf.PdfReader(io.BytesIO(bytes_of(kept.document))).pages
    text = " ".join(pages[0].extract_text().split())
    assert len(pages) == 2
    assert "a letter, scanned in" in text
    assert "Spoke to the desk." in text
    assert [one.content_type for one in kept.scans.all()] == ["image/jpeg"]
    entry = trail_of(kept).get(action="vet answered")
    assert (entry.via, entry.changes["confirmed"]) == ("letter", "call_back")
    assert "Spoke" not in str(entry.changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"scan": []}, "A telephone answer is a note"),
        ({"confirmed": ""}, "made sure"),
        ({"confirmed": "other"}, "in which other way"),
        ({"until": None}, "first day and a last day"),
        ({"registration_number": ""}, "registration number"),
    ],
)
def test_a_letter_with_something_missing_is_refused(waiting, owner_manager, private_folder, changes, words):
    with pytest.raises(Refused, match=words):
        keep_letter(waiting, NOW, owner_manager, **changes)
    waiting.refresh_from_db()
    assert waiting.answer == "waiting"
    assert [file for file in private_folder.rglob("*") if file.is_file()] == []


def test_a_letter_after_an_answer_is_refused(waiting, now, owner_manager, private_folder):
    answer_referral(referral=waiting, word=vet_word(), at=now)
    with pytest.raises(Refused, match="already answered"):
        keep_letter(waiting, now, owner_manager)


@time_machine.travel(NOW, tick=False)
def test_the_letter_is_recorded_on_its_page_and_a_slip_loses_nothing(waiting, as_assistant, private_folder):
    address = reverse("clients:referral-letter", args=[waiting.pk])
    assert "A letter came" in as_assistant.get(waiting.get_absolute_url()).content.decode()
    sent = {
        "answer": "conditions",
        "conditions": "Walk only afterwards.",
        "since": "2026-03-02",
        "until": "2026-05-31",
        "vet_name": "Dr. Ada Lindqvist",
        "registration_number": "CO-4471",
        "examined_on": "2026-02-27",
        "confirmed": "other",
    }
    answer = as_assistant.post(address, {**sent, "scan": [upload(photo())]})
    assert set(answer.context["form"].errors) == {"confirmed_note", "scan"}
    assert "Walk only afterwards." in answer.content.decode()
    answer = as_assistant.post(address, {**sent, "confirmed": "known_address", "scan": [upload(photo())]}, follow=True)
    page = answer.content.decode()
    assert "It came from an address of the practice that we knew" in page
    assert "As given" in page
    assert as_assistant.get(address).status_code == 409
