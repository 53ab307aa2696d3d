import io
from datetime import date, timedelta

import pypdf
import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.documents.uploads import checked
from backoffice.documents.verification import faults_of_files
from backoffice.refusal import Refused
from clients.animals.models import Ownership
from clients.paperwork.actions import publish_wording_version
from clients.paperwork.models import Form, Signature
from clients.paperwork.on_paper import paper_to_sign, sign_on_paper
from clients.paperwork.queries import permission_for_each, work_of
from clients.paperwork.signing import digest_of, withdraw_form
from clients.paperwork.verification import faults_of_signatures
from clients.people.models import Person
from tests.conftest import NOW
from tests.factories.clients import AnimalFactory, FormFactory, OwnershipFactory, PersonFactory, ServiceFactory
from tests.factories.paperwork import ready_animal
from tests.uploads import pdf, photo, upload

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
TODAY, SIGNED_ON = date(2026, 3, 2), date(2026, 2, 27)


@pytest.fixture
def form(business):
    animal = AnimalFactory(name="Biscuit")
    owner = OwnershipFactory(animal=animal, person__name="Ottilie Brackwater").person
    return FormFactory(animal=animal, signer=owner)


@pytest.fixture
def sign(form, now, owner_manager):
    def sign_it(row=form, **changes) -> Form:
        given = {"name_typed": row.signer.name, "capacity": "owner", "signed_on": SIGNED_ON, "by": owner_manager}
        scan = [checked(photo(size=(60, 90), located=True)), checked(pdf(pages=2))]
        return sign_on_paper(**{**given, "form": row, "scan": scan, "at": now, **changes})

    return sign_it


@pytest.mark.drawn
def test_the_scan_becomes_one_sealed_pdf_and_each_file_stays_as_given(sign, form):
    signed = sign()
    pages = pypdf.PdfReader(io.BytesIO(bytes_of(signed.document))).pages
    assert len(pages) == 1 + 1 + 2
    assert "Signed on paper on 27 Feb 2026" in " ".join(pages[0].extract_text().split())
    assert signed.document.is_sealed
    given = list(signed.scans.order_by("pk"))
    assert [one.content_type for one in given] == ["image/jpeg", "application/pdf"]
    assert bytes_of(given[1]) == pdf(pages=2)
    assert list(faults_of_files()) == []


def test_the_form_holds_from_the_day_on_the_paper(sign):
    signed = sign()
    assert (signed.state, signed.valid_from, signed.valid_until) == ("signed", SIGNED_ON, date(2027, 2, 26))
    signature = signed.signature
    assert (signature.paper_signed_on, signature.strokes, signature.signed_at) == (SIGNED_ON, [], NOW)
    assert signature.text == "I agree to sessions for Biscuit."


def test_a_paper_consent_counts_for_permission_to_work(sign):
    animal = ready_animal()
    animal.forms.all().delete()
    unsigned = FormFactory(animal=animal, signer=animal.ownerships.get().person)
    service = ServiceFactory()
    assert permission_for_each([(animal, work_of(service))], on=TODAY)[0].is_hold
    sign(unsigned)
    assert permission_for_each([(animal, work_of(service))], on=TODAY)[0].is_ready


def test_the_trail_keeps_the_sha_256_of_the_sealed_file_and_of_each_file_given(sign):
    signed = sign()
    entry = trail_of(signed).get()
    assert (entry.action, entry.via) == ("form signed", "paper")
    assert entry.changes["sha256"] == signed.document.sha256
    assert entry.changes["given"][1] == signed.scans.order_by("pk")[1].sha256
    assert "Ottilie" not in str(entry.changes)


def test_another_day_written_over_the_signature_is_seen(sign):
    sign()
    assert list(faults_of_signatures()) == []
    Signature.objects.update(paper_signed_on=date(2026, 2, 1))
    assert len(list(faults_of_signatures())) == 1


# The same rules as signing on the device


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"scan": []}, "Choose the scan"),
        ({"name_typed": "Somebody Else"}, "differs from the name on the form"),
        ({"name_typed": " "}, "name is missing"),
        ({"capacity": "agent"}, "may sign this as"),
        ({"signed_on": TODAY + timedelta(days=1)}, "still to come"),
        ({"signed_on": date(2000, 1, 1)}, "carries another text"),
    ],
)
def test_a_paper_that_does_not_stand_is_refused_and_nothing_is_stored(sign, form, changes, words, private_folder):
    with pytest.raises(Refused, match=words):
        sign(**changes)
    form.refresh_from_db()
    assert form.state == "to_sign"
    assert not Document.objects.exists()
    assert [file for file in private_folder.rglob("*") if file.is_file()] == []


def test_a_child_s_name_does_not_stand(sign, form):
    Person.objects.filter(pk=form.signer_id).update(born_on=date(2015, 1, 1))
    with pytest.raises(Refused, match="too young to sign"):
        sign()


def test_who_owned_the_horse_on_the_day_of_the_paper_decides(sign, form):
    Ownership.objects.filter(animal=form.animal).update(since=SIGNED_ON + timedelta(days=1))
    with pytest.raises(Refused, match="no owner on"):
        sign()


def test_a_paper_of_an_older_wording_is_refused(sign, form, now, owner_manager):
    wording = form.wording_version.wording
    publish_wording_version(
        wording=wording, text="New.", valid_months=12, must_sign_again=False, at=now, by=owner_manager
    )
    with pytest.raises(Refused, match="a paper signed before it carries another text"):
        sign()


def test_signed_twice_or_after_withdrawal_is_refused(sign, form, now, owner_manager):
    sign()
    with pytest.raises(Refused, match="already signed"):
        sign()
    other = FormFactory(animal=form.animal, signer=form.signer)
    withdraw_form(form=other, at=now, by=owner_manager)
    with pytest.raises(Refused, match="withdrawn"):
        sign(other)


# To take along


@pytest.mark.drawn
def test_the_paper_to_sign_carries_the_text_its_digest_and_who_may_sign_as_what(form):
    text = " ".join(pypdf.PdfReader(io.BytesIO(paper_to_sign(form, on=TODAY))).pages[0].extract_text().split())
    for words in ("I agree to sessions for Biscuit.", "Name (Ottilie Brackwater)", "Owner", "Signature", "12 months"):
        assert words in text
    assert digest_of("I agree to sessions for Biscuit.")[:20] in text.replace(" ", "")


def test_a_signed_form_is_not_printed_to_sign_again(sign, form):
    sign()
    form.refresh_from_db()
    with pytest.raises(Refused, match="not to sign any more"):
        paper_to_sign(form, on=TODAY)


# Pages


@pytest.fixture
def address(form):
    with time_machine.travel(NOW, tick=False):
        yield reverse("clients:form-on-paper", args=[form.pk])


def sent(**changes):
    facts = {"capacity": "owner", "name_typed": "Ottilie Brackwater", "signed_on": "2026-02-27"}
    return {**facts, "scan": [upload(photo(), "../../1.jpg"), upload(photo(), "2.php")], **changes}


def test_bringing_in_photos_shows_the_form_as_signed_on_paper_with_the_scan_to_open(as_assistant, address, form):
    assert 'enctype="multipart/form-data"' in as_assistant.get(address).content.decode()
    answer = as_assistant.post(address, sent(), follow=True)
    shown = answer.content.decode()
    assert "Signed on paper on Fri 27 Feb" in shown
    assert "scanned in by" in shown
    form.refresh_from_db()
    for document in (form.document, *form.scans.all()):
        opened = as_assistant.get(reverse("backoffice:document", args=[document.pk]))
        assert opened["Content-Type"] == document.content_type
        assert "php" not in opened["Content-Disposition"]


def test_a_bad_scan_is_refused_at_its_field_and_what_was_typed_stays(as_assistant, address, form):
    answer = as_assistant.post(address, sent(scan=[upload(b"<svg onload='x()'>", "scan.jpg")]))
    assert answer.status_code == 422
    assert "can carry a script" in str(answer.context["form"].errors["scan"])
    assert 'value="Ottilie Brackwater"' in answer.content.decode()
    assert not Document.objects.exists()


def test_an_error_elsewhere_says_that_the_file_has_to_be_chosen_again(as_assistant, address):
    errors = as_assistant.post(address, sent(name_typed="Somebody Else")).context["form"].errors
    assert "differs from the name" in str(errors["name_typed"])
    assert errors["scan"] == ["Choose the scan once more: the browser does not keep it."]
    errors = as_assistant.post(address, sent(scan=[], name_typed="Somebody Else")).context["form"].errors
    assert errors["scan"] == ["Scan of the signed paper is missing."]


def test_the_day_on_the_paper_is_not_to_come(as_assistant, address):
    assert "still to come" in str(as_assistant.post(address, sent(signed_on="2026-03-03")).context["form"].errors)


def test_who_may_not_change_care_brings_in_nothing(as_bookkeeper, as_assistant, address, form):
    assert as_bookkeeper.post(address, sent()).status_code == 403
    printed = as_bookkeeper.get(reverse("clients:form-print", args=[form.pk]))
    assert printed.content.startswith(b"%PDF")
    assert "It was signed on paper" not in as_bookkeeper.get(form.get_absolute_url()).content.decode()


def test_where_nobody_may_sign_the_page_says_so(as_assistant, form):
    row = FormFactory(animal=form.animal, signer=PersonFactory())
    answer = as_assistant.get(reverse("clients:form-on-paper", args=[row.pk]))
    assert "may not sign this today" in answer.content.decode()


def test_a_form_that_is_not_to_sign_is_refused_before_anything_is_typed(as_assistant, address, sign):
    sign()
    assert as_assistant.get(address).status_code == 409


def test_a_paper_of_before_stands_when_somebody_answers_for_its_words(sign, form, owner_manager):
    """Who may sign is judged as of today; it never holds longer than the wording, and ends earlier where it says so."""
    Ownership.objects.filter(animal=form.animal).update(since=SIGNED_ON + timedelta(days=1))
    old, until = form.wording_version.published_on - timedelta(days=90), date(2026, 4, 30)
    signed = sign(signed_on=old, says_the_same=True, until=until)
    assert (signed.valid_from, signed.valid_until) == (old, until)
    assert f"{owner_manager} has read it and says that it covers the same." in signed.signature.text
    assert list(faults_of_signatures()) == []
    other = FormFactory(animal=form.animal, signer=form.signer, wording_version=form.wording_version)
    with pytest.raises(Refused, match="ends before the day on the paper"):
        sign(other, signed_on=old, says_the_same=True, until=old - timedelta(days=1))


def test_the_page_asks_to_answer_for_a_paper_of_before(as_owner_manager, form, now):
    with time_machine.travel(now, tick=False):
        said = {"name_typed": form.signer.name, "capacity": "owner", "signed_on": "1999-12-01", "until": "1999-11-01"}
        page = reverse("clients:form-on-paper", args=[form.pk])
        answer = as_owner_manager.post(page, {**said, "scan": upload(photo())})
        assert "It ends before the day on the paper." in answer.content.decode()
        answer = as_owner_manager.post(page, {**said, "until": "", "scan": upload(photo())})
        assert "If you read it and it says the same, tick that below." in answer.content.decode()
        form.refresh_from_db()
        assert form.state == "to_sign"
