"""The private pages of an owner and a vet."""

import json
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from backoffice.audit.queries import trail_of
from backoffice.links.actions import issue_link
from backoffice.links.models import PrivateLink
from clients.paperwork.models import Signature
from clients.paperwork.referring import link_to_answer
from clients.paperwork.signing import link_to_sign, withdraw_form
from tests.factories.clients import AnimalFactory, FormFactory, OwnershipFactory, VetPracticeFactory
from tests.factories.paperwork import DRAWN, referral_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def form(business):
    animal = AnimalFactory(name="Biscuit")
    owner = OwnershipFactory(animal=animal, person__name="Ottilie Brackwater").person
    return FormFactory(animal=animal, signer=owner)


@pytest.fixture
def owner_page(form, owner_manager):
    token = link_to_sign(form=form, at=timezone.now(), by=owner_manager)
    return reverse("clients:owner-form", args=[token])


@pytest.fixture
def referral(business):
    animal = AnimalFactory(name="Marigold", vet_practice=VetPracticeFactory())
    return referral_for(animal, answer="waiting", answered_on=None, since=None, until=None)


@pytest.fixture
def vet_page(referral, owner_manager):
    token = link_to_answer(referral=referral, at=timezone.now(), by=owner_manager)
    return reverse("clients:vet-referral", args=[token])


def signed(**changes):
    data = {"electronic": "on", "capacity": "owner", "name_typed": "Ottilie Brackwater", "strokes": json.dumps(DRAWN)}
    return {**data, **changes}


def answer(**changes):
    today = timezone.localdate()
    data = {
        "answer": "conditions",
        "service_kinds": ["spot"],
        "max_minutes": "20",
        "conditions": "Not below the knee.",
        "since": today.isoformat(),
        "until": (today + timedelta(days=60)).isoformat(),
        "vet_name": "Dr. Ada Lindqvist",
        "registration_number": "CO-4471",
        "examined_on": today.isoformat(),
        "is_vet": "on",
    }
    return {**data, **changes}


def test_opening_the_page_changes_nothing_however_often(form, owner_page, client):
    entries = trail_of(form).count()
    for _ in range(20):
        assert client.get(owner_page).status_code == 200
    form.refresh_from_db()
    assert form.state == "to_sign"
    assert trail_of(form).count() == entries


def test_an_owner_reads_first_then_signs_and_gets_a_copy(form, owner_page, client):
    text = client.get(owner_page).content.decode()
    assert text.index("I agree to sessions for Biscuit.") < text.index("Before you sign") < text.index("I sign as")
    assert client.post(owner_page, signed(), HTTP_USER_AGENT="Phone").status_code == 302
    signature = Signature.objects.get()
    assert signature.link == PrivateLink.objects.get()
    assert (signature.device, signature.address, signature.witnessed_by) == ("Phone", "127.0.0.1", None)
    entry = trail_of(form).first()
    assert (entry.action, entry.by, entry.via) == ("form signed", None, "private link")
    after = client.get(owner_page).content.decode()
    assert "Signed on" in after
    copy = client.get(f"{owner_page}copy/")
    assert copy["Content-Type"] == "application/pdf"
    assert copy.content.startswith(b"%PDF")


def test_signing_twice_by_the_same_link_keeps_the_first(form, owner_page, client):
    client.post(owner_page, signed())
    again = client.post(owner_page, signed(name_typed="Somebody Else"))
    assert again.status_code == 200
    assert "Signed on" in again.content.decode()
    assert Signature.objects.get().name_typed == "Ottilie Brackwater"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"electronic": ""}, "Tick this to sign here, or ask for the form on paper."),
        ({"strokes": ""}, "The signature is missing: draw it in the box."),
        ({"name_typed": "Imani Velloran"}, "This differs from the name on the form"),
        ({"read": "f" * 64}, "The text changed while it was being read."),
    ],
)
def test_a_wrong_signature_gets_a_sentence_and_nothing_is_signed(form, owner_page, client, change, sentence):
    back = client.post(owner_page, signed(**change))
    assert back.status_code == 422
    assert sentence in back.content.decode()
    form.refresh_from_db()
    assert form.state == "to_sign"


def test_a_minor_without_a_guardian_finds_no_pad(form, owner_page, client):
    form.signer.under_age = True
    form.signer.save()
    text = client.get(owner_page).content.decode()
    assert "cannot be signed here today" in text
    assert "data-signature" not in text
    assert client.post(owner_page, signed()).status_code == 422


def test_withdrawn_guessed_and_ended_links_show_one_closed_page(form, owner_page, client, owner_manager):
    withdraw_form(form=form, at=timezone.now(), by=owner_manager)
    _, ended = issue_link(
        purpose=PrivateLink.Purpose.FORM,
        target=form,
        at=timezone.now() - timedelta(days=40),
        valid_for=timedelta(days=30),
        by=None,
    )
    pages = [owner_page, reverse("clients:owner-form", args=["guess"]), reverse("clients:owner-form", args=[ended])]
    found = [client.get(address) for address in pages]
    assert [one.status_code for one in found] == [404, 404, 404]
    assert len({re.sub(rb'"X-CSRFToken": "\w+"', b"", one.content) for one in found}) == 1
    assert client.post(owner_page, signed()).status_code == 404


def test_a_link_opens_only_what_it_was_made_for(owner_page, vet_page, client):
    assert client.get(vet_page.replace("/vet/", "/form/")).status_code == 404
    assert client.get(owner_page.replace("/form/", "/vet/")).status_code == 404


def test_many_wrong_tries_close_the_door_for_the_right_one_too(form, owner_page, client):
    for number in range(20):
        client.get(reverse("clients:owner-form", args=[f"guess{number}"]))
    assert client.get(owner_page).status_code == 404
    assert client.get(owner_page, REMOTE_ADDR="198.51.100.9").status_code == 200


def test_private_pages_are_kept_out_of_searches_and_caches(owner_page, vet_page, client):
    for address in (owner_page, vet_page):
        response = client.get(address)
        assert response["X-Robots-Tag"] == "noindex, nofollow"
        assert "no-store" in response["Cache-Control"]


def test_a_copy_is_there_only_after_signing(owner_page, vet_page, client):
    assert client.get(f"{owner_page}copy/").status_code == 404
    assert client.get(f"{vet_page}copy/").status_code == 404


# The vet


def test_a_vet_answers_with_limits_and_permission_follows(referral, vet_page, client):
    assert "A question about Marigold" in client.get(vet_page).content.decode()
    assert client.post(vet_page, answer()).status_code == 302
    referral.refresh_from_db()
    assert (referral.answer, referral.service_kinds, referral.max_minutes) == ("conditions", ["spot"], 20)
    assert "Not below the knee." in client.get(vet_page).content.decode()
    assert client.get(f"{vet_page}copy/").content.startswith(b"%PDF")


def test_a_vet_answers_once(referral, vet_page, client):
    client.post(vet_page, answer())
    client.post(vet_page, answer(answer="no"))
    referral.refresh_from_db()
    assert referral.answer == "conditions"


def test_a_vets_no_needs_no_days(referral, vet_page, client):
    assert client.post(vet_page, answer(answer="no", since="", until="")).status_code == 302
    referral.refresh_from_db()
    assert (referral.answer, referral.until) == ("no", None)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"answer": ""}, "Choose an answer."),
        ({"answer": "maybe"}, "Choose one from the list."),
        ({"since": ""}, "A yes has a first day and a last day."),
        ({"until": "1926-01-01"}, "before 1980"),
        ({"until": "2020-01-01"}, "The last day is before the first."),
        ({"since": "2020-01-01", "until": "2020-02-01"}, "The last day is already past."),
        ({"until": "2099-01-01"}, "at most two years"),
        ({"max_minutes": "900"}, "300 or less"),
        ({"max_minutes": "", "conditions": ""}, "Write the conditions"),
        ({"service_kinds": ["surgery"]}, "Choose one from the list."),
        ({"vet_name": ""}, "Your name is missing."),
        ({"registration_number": ""}, "is missing."),
        ({"examined_on": "2099-01-01"}, "This day is still to come."),
        ({"examined_on": "1999-01-01"}, "more than a year ago"),
        ({"is_vet": ""}, "Tick this to give the answer."),
        ({"conditions": "x" * 5_000_000}, "at most 2000 characters"),
    ],
)
def test_an_answer_that_does_not_hold_together_gets_a_sentence(referral, vet_page, client, change, sentence):
    back = client.post(vet_page, answer(**change))
    assert back.status_code == 422
    text = back.content.decode()
    assert sentence in text
    assert "CO-4471" in text or "registration_number" in change
    referral.refresh_from_db()
    assert referral.answer == "waiting"


def test_names_in_any_script_and_markup_are_kept_as_text(referral, vet_page, client):
    client.post(vet_page, answer(vet_name="د. ليلى حسن", conditions="<script>alert(1)</script> 🐴"))
    text = client.get(vet_page).content.decode()
    assert "د. ليلى حسن" in text
    assert "<script>alert" not in text
    assert "🐴" in text
