import json
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from backoffice.links.models import PrivateLink
from clients.animals.models import HealthFact
from clients.paperwork.actions import add_starter_wordings, note_decision, open_stop_note
from clients.paperwork.models import Form, PlaceLaw, StopNote, VetReferral, Wording, WordingVersion
from tests.factories.clients import (
    AnimalFactory,
    FormFactory,
    HealthFactFactory,
    OwnershipFactory,
    PersonFactory,
    ServiceFactory,
    VetPracticeFactory,
    WordingVersionFactory,
)
from tests.factories.paperwork import DRAWN, referral_for, version_of

pytestmark = pytest.mark.django_db
LONG = "x" * 5_000_000
DAY = date(2026, 3, 12)


@pytest.fixture
def form(business):
    animal = AnimalFactory(name="Biscuit")
    owner = OwnershipFactory(animal=animal, person__name="Ottilie Brackwater").person
    return FormFactory(animal=animal, signer=owner)


@pytest.fixture
def referral(business):
    animal = AnimalFactory(name="Marigold", vet_practice=VetPracticeFactory())
    return referral_for(animal, answer="waiting", answered_on=None, since=None, until=None)


def sign_data(**changes):
    return {"capacity": "owner", "name_typed": "Ottilie Brackwater", "strokes": json.dumps(DRAWN), **changes}


# Who sees what


PAGES = {
    # name → (arguments from the fixtures, owner-manager, assistant, bookkeeper)
    "paperwork": (None, 200, 200, 200),
    "forms": (None, 200, 200, 200),
    "form": ("form", 200, 200, 200),
    "form-new": (None, 200, 200, 403),
    "form-sign": ("form", 200, 200, 403),
    "form-print": ("form", 200, 200, 200),
    "form-on-paper": ("form", 200, 200, 403),
    "form-withdraw": ("form", 200, 200, 403),
    "referral": ("referral", 200, 200, 403),
    "referral-letter": ("referral", 200, 200, 403),
    "referral-call": ("referral", 200, 200, 403),
    "referral-new": ("animal", 200, 200, 403),
    "stop-note-close": ("note", 200, 200, 403),
    "decision": ("decision", 200, 200, 403),
    "wordings": (None, 200, 403, 403),
    "wording": ("wording", 200, 403, 403),
    "wording-new": (None, 200, 403, 403),
    "wording-version-new": ("wording", 200, 403, 403),
    "laws": (None, 200, 403, 403),
    "law-new": (None, 200, 403, 403),
}


@pytest.fixture
def rows(form, referral, now, owner_manager):
    """One row for each kind of page."""
    return {
        "form": form,
        "referral": referral,
        "animal": form.animal,
        "wording": form.wording_version.wording,
        "note": open_stop_note(animal=form.animal, seen="Left hind swollen.", at=now, by=owner_manager),
        "decision": note_decision(
            animal=form.animal, door="quote", on=DAY, service=ServiceFactory(), at=now, by=owner_manager
        ),
    }


@pytest.mark.parametrize("who", ["owner_manager", "assistant", "bookkeeper"])
@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_for_those_who_may_and_for_nobody_else(name, who, rows, client, request):
    wanted, *statuses = PAGES[name]
    status = dict(zip(["owner_manager", "assistant", "bookkeeper"], statuses, strict=True))[who]
    address = reverse(f"clients:{name}", args=[rows[wanted].pk] if wanted else [])
    assert client.get(address).status_code == 302
    client.force_login(request.getfixturevalue(who))
    assert client.get(address).status_code == status


@pytest.mark.parametrize(
    "name", ["form-link", "referral-link", "referral-remind", "wording-preview", "wording-starters"]
)
def test_what_changes_something_is_no_get_and_not_for_the_bookkeeper(
    name, form, referral, as_owner_manager, as_bookkeeper
):
    args = {"form-link": [form.pk], "referral-link": [referral.pk], "referral-remind": [referral.pk]}.get(name, [])
    assert as_owner_manager.get(reverse(f"clients:{name}", args=args)).status_code == 405
    assert as_bookkeeper.post(reverse(f"clients:{name}", args=args)).status_code == 403


@pytest.mark.parametrize(
    "name", ["form", "form-sign", "form-withdraw", "referral", "stop-note-close", "decision", "wording"]
)
def test_a_row_that_is_not_there_is_a_page_not_found(name, as_owner_manager):
    assert as_owner_manager.get(reverse(f"clients:{name}", args=[999_999])).status_code == 404


# The desk


def test_the_desk_shows_what_waits_for_somebody(form, referral, now, owner_manager, as_owner_manager):
    today = timezone.localdate()
    open_stop_note(animal=form.animal, seen="Left hind swollen.", at=now, by=owner_manager)
    FormFactory(animal=form.animal, state="signed", valid_from=today, valid_until=today + timedelta(days=9))
    page = as_owner_manager.get("/paperwork/").content.decode()
    for words in ("To sign", "Lapsing soon", "Waiting for the vet", "Stopped for the vet", "Left hind swollen."):
        assert words in page


def test_the_bookkeeper_sees_forms_and_no_health(form, referral, now, owner_manager, as_bookkeeper):
    open_stop_note(animal=form.animal, seen="Left hind swollen.", at=now, by=owner_manager)
    page = as_bookkeeper.get("/paperwork/").content.decode()
    assert "To sign" in page
    assert "swollen" not in page
    assert "Waiting for the vet" not in page


def test_an_empty_desk_says_what_to_do_next(as_owner_manager, as_assistant):
    assert "Go to the wordings" in as_owner_manager.get("/paperwork/").content.decode()
    assert "The owner-manager adds the texts" in as_assistant.get("/paperwork/").content.decode()
    version_of("consent")
    assert "Nothing waits" in as_owner_manager.get("/paperwork/").content.decode()


@pytest.mark.parametrize("count", [1, 30])
def test_the_desk_takes_the_same_number_of_queries_for_one_row_and_for_thirty(
    count, owner_manager, as_owner_manager, django_assert_num_queries
):
    today, now = timezone.localdate(), timezone.now()
    version = version_of("consent")
    for _ in range(count):
        animal = AnimalFactory(vet_practice=VetPracticeFactory())
        FormFactory(animal=animal, wording_version=version)
        FormFactory(
            animal=animal, wording_version=version, state="signed", valid_from=today, valid_until=today + timedelta(2)
        )
        referral_for(animal, answer="waiting", until=None)
        referral_for(animal, until=today + timedelta(2))
        StopNote.objects.create(animal=animal, seen="Swollen.", opened_at=now, opened_by=owner_manager)
    with django_assert_num_queries(10):
        as_owner_manager.get("/paperwork/")


@pytest.mark.parametrize("count", [1, 30])
def test_the_list_of_forms_takes_the_same_number_of_queries_for_one_row_and_for_thirty(
    count, as_owner_manager, django_assert_num_queries
):
    version = version_of("consent")
    for _ in range(count):
        FormFactory(wording_version=version)
    with django_assert_num_queries(5):
        as_owner_manager.get("/paperwork/forms/")


@pytest.mark.parametrize("count", [1, 30])
def test_wordings_and_laws_take_the_same_number_of_queries_for_one_row_and_for_thirty(
    count, as_owner_manager, django_assert_num_queries
):
    for number in range(count):
        wording = Wording.objects.create(kind="consent", title=f"Consent {number}")
        WordingVersionFactory(wording=wording)
        PlaceLaw.objects.create(place=f"P{number}", rule="free", source="S", recorded_on=date(2026, 1, 1))
    with django_assert_num_queries(5):
        as_owner_manager.get("/settings/wordings/")
    with django_assert_num_queries(4):
        as_owner_manager.get("/settings/laws/")


def test_the_list_finds_lapsed_forms_by_their_day(form, as_owner_manager):
    days = {"valid_from": date(2020, 1, 1), "valid_until": date(2021, 1, 1)}
    FormFactory(animal=AnimalFactory(name="Tinker"), state="signed", **days)
    page = as_owner_manager.get("/paperwork/forms/?state=lapsed").content.decode()
    assert "Tinker" in page
    assert "Biscuit" not in page
    assert Form.objects.get(state="signed").state_on(timezone.localdate()) == "lapsed"


# Making, signing, withdrawing


def test_a_new_form_starts_with_the_horse_of_the_address_and_its_one_owner(form, as_owner_manager):
    form.delete()
    page = as_owner_manager.get(f"/paperwork/forms/new/?animal={form.animal_id}")
    assert page.context["form"].initial["signer"] == form.signer_id
    data = {"version": form.wording_version_id, "signer": form.signer_id, "animal": form.animal_id}
    answer = as_owner_manager.post("/paperwork/forms/new/", data, follow=True)
    assert "has a form to sign" in answer.content.decode()
    assert Form.objects.get().state == "to_sign"


@pytest.mark.parametrize("animal", ["x", "²", "9" * 400, "-1", ""])
def test_an_odd_address_of_a_new_form_opens_an_empty_one(form, as_owner_manager, animal):
    assert as_owner_manager.get("/paperwork/forms/new/", {"animal": animal, "wording": animal}).status_code == 200


def test_a_refused_new_form_keeps_what_was_typed(form, as_owner_manager):
    data = {"version": form.wording_version_id, "signer": form.signer_id, "animal": form.animal_id, "cap": "12.50"}
    answer = as_owner_manager.post("/paperwork/forms/new/", data)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "already has this form to sign" in page
    assert 'value="12.50"' in page


def test_signing_on_the_device_keeps_who_was_present(form, owner_manager, as_owner_manager):
    page = as_owner_manager.get(f"/paperwork/forms/{form.pk}/sign/").content.decode()
    assert page.index("I agree to sessions for Biscuit.") < page.index("I sign as")
    answer = as_owner_manager.post(f"/paperwork/forms/{form.pk}/sign/", sign_data(), HTTP_USER_AGENT="Phone")
    assert answer.status_code == 302
    form.refresh_from_db()
    assert (form.state, form.signature.witnessed_by, form.signature.device) == ("signed", owner_manager, "Phone")
    page = as_owner_manager.get(f"/paperwork/forms/{form.pk}/").content.decode()
    assert "On the device of" in page
    assert "it does not prove who signed" in page
    assert as_owner_manager.get(reverse("backoffice:document", args=[form.document_id])).status_code == 200


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"strokes": ""}, "The signature is missing: draw it in the box."),
        ({"strokes": "[[[1,1]]]"}, "That is only a dot"),
        ({"strokes": "{"}, "did not arrive whole"),
        ({"strokes": LONG[:700_000]}, "at most 600000 characters"),
        ({"name_typed": "Imani"}, "This differs from the name on the form, Ottilie Brackwater."),
        ({"name_typed": ""}, "Name is missing."),
        ({"name_typed": LONG}, "at most 120 characters"),
        ({"name_typed": "<script>alert(1)</script>"}, "This differs from the name"),
        ({"capacity": "agent"}, "Choose one from the list."),
        ({"read": "0" * 64}, "The text changed while it was being read."),
    ],
)
def test_a_signature_that_is_none_gets_a_sentence_and_keeps_what_was_typed(form, as_owner_manager, change, sentence):
    answer = as_owner_manager.post(f"/paperwork/forms/{form.pk}/sign/", sign_data(**change))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert sentence in page
    assert "<script>alert" not in page
    if "strokes" not in change:
        assert "[[[100, 200]" in page
    form.refresh_from_db()
    assert form.state == "to_sign"


def test_somebody_who_may_not_sign_is_told_so_instead_of_a_pad(form, as_owner_manager):
    other = FormFactory(animal=form.animal, signer=PersonFactory())
    page = as_owner_manager.get(f"/paperwork/forms/{other.pk}/sign/").content.decode()
    assert "may not sign this today" in page
    assert "data-signature" not in page


def test_withdrawing_asks_first_and_says_what_will_happen(form, as_owner_manager):
    page = as_owner_manager.get(f"/paperwork/forms/{form.pk}/withdraw/").content.decode()
    assert "Withdraw this form?" in page
    as_owner_manager.post(f"/paperwork/forms/{form.pk}/withdraw/")
    form.refresh_from_db()
    assert form.state == "withdrawn"
    again = as_owner_manager.post(f"/paperwork/forms/{form.pk}/withdraw/")
    assert again.status_code == 409
    assert "already withdrawn" in again.content.decode()


def test_a_private_link_is_shown_once_and_kept_only_as_a_digest(form, as_owner_manager):
    answer = as_owner_manager.post(f"/paperwork/forms/{form.pk}/link/")
    address = answer.context["address"]
    token = address.rstrip("/").rsplit("/", 1)[1]
    assert "/p/form/" in address
    assert "mailto:" in answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    assert not PrivateLink.objects.filter(token_hash=token).exists()
    assert token not in as_owner_manager.get(f"/paperwork/forms/{form.pk}/").content.decode()


# The vet


def test_asking_the_vet_starts_with_what_is_recorded_and_judges_nothing(form, as_owner_manager):
    HealthFactFactory(animal=form.animal, kind=HealthFact.Kind.IN_FOAL, state=HealthFact.State.YES)
    address = f"/horses/{form.animal_id}/ask-the-vet/"
    asked = as_owner_manager.get(address).context["form"].initial["asked"]
    assert "In foal, or covered since: yes, recorded on 2026-03-01" in asked
    answer = as_owner_manager.post(address, {"practice": VetPracticeFactory().pk, "asked": asked})
    assert "/p/vet/" in answer.context["address"]
    assert VetReferral.objects.get().asked == asked
    assert as_owner_manager.post(address, {"practice": "", "asked": ""}).status_code == 422


def test_an_open_request_gets_a_new_link(referral, as_owner_manager):
    assert "/p/vet/" in as_owner_manager.post(f"/paperwork/referrals/{referral.pk}/link/").context["address"]


def test_a_quiet_vet_is_reminded_with_a_new_link(referral, as_owner_manager):
    page = as_owner_manager.get(referral.get_absolute_url()).content.decode()
    assert "Remind the vet" in page
    answer = as_owner_manager.post(f"/paperwork/referrals/{referral.pk}/remind/")
    assert "/p/vet/" in answer.context["address"]
    assert "Remind the vet" not in as_owner_manager.get(referral.get_absolute_url()).content.decode()


def test_what_the_vet_said_on_the_telephone_is_written_down_as_a_note(referral, as_owner_manager):
    address = f"/paperwork/referrals/{referral.pk}/call/"
    assert as_owner_manager.post(address, {"vet_name": "", "said": LONG}).status_code == 422
    assert (
        as_owner_manager.post(address, {"vet_name": "Dr. L.", "said": "Not yet.", "says_no": "on"}).status_code == 302
    )
    page = as_owner_manager.get(referral.get_absolute_url()).content.decode()
    assert "Not yet." in page
    assert "A call is a note." in page


def test_the_question_to_the_vet_begins_with_the_practitioners_own_wording(form, as_owner_manager):
    WordingVersionFactory(wording__kind=Wording.Kind.VET, text="To the vet of {horse}, from {business} for {owner}.")
    asked = as_owner_manager.get(f"/horses/{form.animal_id}/ask-the-vet/").context["form"].initial["asked"]
    assert asked == "To the vet of Biscuit, from Holt-Adair Horse Sessions for Ottilie Brackwater."


def test_a_stop_note_is_closed_with_the_vets_words(form, now, owner_manager, as_owner_manager):
    note = open_stop_note(animal=form.animal, seen="Left hind swollen.", at=now, by=owner_manager)
    address = f"/paperwork/stop-notes/{note.pk}/close/"
    assert as_owner_manager.post(address, {"vet_said": ""}).status_code == 422
    assert as_owner_manager.post(address, {"vet_said": "Dr. L.: fine."}).status_code == 302
    note.refresh_from_db()
    assert note.vet_said == "Dr. L.: fine."


def test_a_decision_is_shown_as_it_was(form, now, owner_manager, as_owner_manager):
    decision = note_decision(
        animal=form.animal, door="quote", on=DAY, service=ServiceFactory(), at=now, by=owner_manager
    )
    form.animal.forms.all().delete()
    page = as_owner_manager.get(f"/paperwork/decisions/{decision.pk}/").content.decode()
    assert "No consent is signed for Biscuit." in page
    assert "not what is known now" in page


# Wordings and laws


def test_starting_texts_come_with_their_warning(as_owner_manager, business):
    answer = as_owner_manager.post("/settings/wordings/starters/", follow=True)
    page = answer.content.decode()
    assert "not legal advice" in page
    assert page.count("Starting text<") == 8
    wording = Wording.objects.get(kind="consent")
    assert "Starting text, not legal advice" in as_owner_manager.get(wording.get_absolute_url()).content.decode()


def test_a_wording_is_written_previewed_and_published_in_versions(as_owner_manager, business):
    data = {"kind": "consent", "title": "Our consent", "text": "Yes, {horse}.", "valid_months": 12}
    preview = as_owner_manager.post("/settings/wordings/preview/", data)
    assert "Yes, Biscuit." in preview.content.decode()
    assert not Wording.objects.exists()
    as_owner_manager.post("/settings/wordings/new/", data)
    wording = Wording.objects.get()
    address = f"/settings/wordings/{wording.pk}/versions/new/"
    assert "Yes, {horse}." in as_owner_manager.get(address).content.decode()
    as_owner_manager.post(address, {"text": "Better, {horse}.", "valid_months": 6, "must_sign_again": "on"})
    newest = wording.versions.first()
    assert (newest.number, newest.must_sign_again, newest.valid_months) == (2, True, 6)
    assert "Version 1" in as_owner_manager.get(wording.get_absolute_url()).content.decode()


def test_a_preview_runs_nothing(as_owner_manager, business):
    page = as_owner_manager.post("/settings/wordings/preview/", {"text": "<script>alert(1)</script> {horse}"}).content
    assert b"<script>alert" not in page
    partial = as_owner_manager.post("/settings/wordings/preview/", {"text": "{horse}"}, HTTP_HX_REQUEST="true").content
    assert b"<html" not in partial


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"text": ""}, "Text is missing."),
        ({"text": "{dog}"}, "{dog} is not a field"),
        ({"text": LONG}, "at most 20000 characters"),
        ({"valid_months": 900}, "120 or less"),
        ({"title": "Consent to sessions"}, "already there"),
    ],
)
def test_a_wording_that_cannot_be_gets_a_sentence(as_owner_manager, business, change, sentence):
    version_of("consent")
    data = {"kind": "consent", "title": "Ours", "text": "Kept text.", "valid_months": 12, **change}
    answer = as_owner_manager.post("/settings/wordings/new/", data)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert WordingVersion.objects.count() == 1


def test_a_law_is_written_down_with_source_and_date(as_owner_manager, business):
    data = {"place": "Colorado", "uses_machine": "yes", "rule": "vet_first", "source": "Letter of the board"}
    page = as_owner_manager.post("/settings/laws/new/", data, follow=True).content.decode()
    assert "Vet first" in page
    assert "Letter of the board" in page
    law = PlaceLaw.objects.get()
    assert (law.uses_machine, law.rule, law.recorded_on) == (True, "vet_first", timezone.localdate())
    answer = as_owner_manager.post("/settings/laws/new/", {**data, "source": ""})
    assert answer.status_code == 422


def test_every_starter_text_can_be_asked_for_and_read(form, now, owner_manager, as_owner_manager):
    for version in add_starter_wordings(at=now, by=owner_manager):
        row = FormFactory(wording_version=version, animal=form.animal, signer=form.signer)
        assert (
            "______" not in as_owner_manager.get(row.get_absolute_url()).content.decode()
            or version.wording.kind == "authority"
        )
